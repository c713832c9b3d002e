package intake

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io/fs"
	"strings"
)

// Typed is what people typed on a page, as the lines of the files it would
// stand in: by file, one line after another, each a text by column. A column
// left out is empty.
type Typed map[string][]map[string]string

// Folder is the folder of CSV files that says the same, for [Read]: what was
// typed is judged as what is imported, by the same code. The first line of a
// file names its columns, so the row i of a file is its line i+2. The error
// names a file or column that there is none of.
func (t Typed) Folder() (fs.FS, error) {
	// An archive in memory is a folder as the standard library knows it.
	var archive bytes.Buffer
	w := zip.NewWriter(&archive)
	for _, sp := range specs {
		rows, there := t[sp.file]
		if !there {
			continue
		}
		f, err := w.CreateHeader(&zip.FileHeader{Name: sp.file, Method: zip.Store})
		if err != nil {
			return nil, fmt.Errorf("write %s: %w", sp.file, err)
		}
		text, err := sp.lines(rows)
		if err != nil {
			return nil, err
		}
		if _, err := f.Write(text); err != nil {
			return nil, fmt.Errorf("write %s: %w", sp.file, err)
		}
	}
	for file := range t {
		if _, ok := specOf(file); !ok {
			return nil, fmt.Errorf("there is no file %s", file)
		}
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("end the folder: %w", err)
	}
	return zip.NewReader(bytes.NewReader(archive.Bytes()), int64(archive.Len()))
}

// lines are the rows as CSV. Blanks at the ends of a field, and line breaks in
// it, are slips of the fingers and not kept.
func (s spec) lines(rows []map[string]string) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString(strings.Join(s.names(), ",") + "\r\n")
	for _, row := range rows {
		known := 0
		for i, c := range s.columns {
			v, there := row[c.name]
			if there {
				known++
			}
			v = strings.Join(strings.Fields(v), " ")
			if c.kind == text {
				v = neutral(v)
			}
			if i > 0 {
				b.WriteByte(',')
			}
			writeField(&b, v)
		}
		if known != len(row) {
			return nil, fmt.Errorf("%s has no such columns as are among %v", s.file, row)
		}
		b.WriteString("\r\n")
	}
	return b.Bytes(), nil
}
