package console

import (
	"bufio"
	"io"
	"os"
	"strings"
	"sync"
	"time"
)

// line is one line of input, or the error that ended it.
type line struct {
	n    int // from 1; of the line, or of the line that is missing
	text string
	long bool // longer than MaxLine; text is empty
	err  error
}

// source reads lines in a goroutine of its own, since a read cannot be cancelled.
type source struct {
	lines chan line
	in    io.Reader
	quit  chan struct{}
	once  sync.Once
	ended chan struct{}
}

func newSource(in io.Reader) *source {
	s := &source{lines: make(chan line), in: in, quit: make(chan struct{}), ended: make(chan struct{})}
	go s.serve()
	return s
}

func (s *source) serve() {
	defer close(s.ended)
	r := bufio.NewReaderSize(s.in, 4096)
	for n := 1; ; n++ {
		l := read(r)
		l.n = n
		select {
		case s.lines <- l:
		case <-s.quit:
			return
		}
		if l.err != nil {
			return
		}
	}
}

// read takes one line without its end (\n or \r\n). The last line may have none. What is
// beyond MaxLine is passed over without being kept.
func read(r *bufio.Reader) line {
	var l line
	var text []byte
	for {
		part, err := r.ReadSlice('\n')
		if len(text) <= MaxLine+2 { // two bytes of line end
			text = append(text, part...)
		}
		if err == bufio.ErrBufferFull {
			continue
		}
		if err != nil && len(text) == 0 {
			l.err = err
			return l
		}
		break // an error behind a last line without end comes again with the next read
	}
	l.text = strings.TrimSuffix(strings.TrimSuffix(string(text), "\n"), "\r")
	if len(l.text) > MaxLine {
		l.text, l.long = "", true
	}
	return l
}

// stop ends the goroutine and waits for it, unless it is caught in a read that nothing
// can end.
func (s *source) stop() {
	s.once.Do(func() { close(s.quit) })
	select {
	case <-s.ended:
		return
	default:
	}
	if !interrupt(s.in) {
		return
	}
	<-s.ended
}

// interrupt ends a read under way and reports whether it could.
func interrupt(in io.Reader) bool {
	if d, ok := in.(interface{ SetReadDeadline(time.Time) error }); ok {
		if d.SetReadDeadline(time.Unix(1, 0)) == nil {
			return true
		}
	}
	if _, ok := in.(*os.File); ok {
		return false // Close does not end a read of a terminal
	}
	c, ok := in.(io.Closer)
	return ok && c.Close() == nil
}
