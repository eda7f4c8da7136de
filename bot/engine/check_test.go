package engine_test

import (
	"errors"
	"reflect"
	"testing"
)

// equal ends the test if got is not deeply equal to want.
func equal(t *testing.T, want, got any, why ...any) {
	t.Helper()
	if !reflect.DeepEqual(want, got) {
		t.Fatalf("got\n\t%#v\nwant\n\t%#v %v", got, want, why)
	}
}

// yes ends the test if ok is false.
func yes(t *testing.T, ok bool, why ...any) {
	t.Helper()
	if !ok {
		t.Fatal(append([]any{"does not hold:"}, why...)...)
	}
}

// good ends the test if err is not nil.
func good(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// is ends the test if err is not want.
func is(t *testing.T, err, want error) {
	t.Helper()
	if !errors.Is(err, want) {
		t.Fatalf("got error %v, want %v", err, want)
	}
}

// near ends the test if got is further than tolerance from want.
func near(t *testing.T, want, got, tolerance float64, why ...any) {
	t.Helper()
	if got < want-tolerance || got > want+tolerance {
		t.Fatal(append([]any{"got", got, "want", want, "within", tolerance}, why...)...)
	}
}
