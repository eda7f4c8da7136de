// Package units holds the unit files that come with the program: invented units for
// tests, drills and first steps. README.md describes the format.
package units

import (
	"embed"
	"fmt"
	"io/fs"
)

// Files are the unit files, at the top of the file system.
//
//go:embed *.yaml
var Files embed.FS

// File is one unit file.
type File struct {
	Name   string // "plate-warmer.yaml"
	Source []byte
}

// Library returns the unit files in the order of their names.
func Library() ([]File, error) {
	names, err := fs.Glob(Files, "*.yaml")
	if err != nil {
		return nil, fmt.Errorf("list unit files: %w", err)
	}
	var all []File
	for _, name := range names {
		src, err := Files.ReadFile(name)
		if err != nil {
			return nil, fmt.Errorf("read unit file: %w", err)
		}
		all = append(all, File{Name: name, Source: src})
	}
	return all, nil
}
