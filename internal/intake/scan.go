package intake

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"
)

// Limits of what is read. They are far above what a shop of any size sends, and
// low enough that a wrong file costs neither memory nor patience.
const (
	MaxFileBytes  = 32 << 20
	MaxFieldBytes = 4 << 10
	MaxLines      = 200_000
	maxColumns    = 64
)

// cell is one field of a record and the physical line it begins on.
type cell struct {
	text string
	line int
}

// record is one record; fields beyond maxColumns are counted, not kept.
type record struct {
	line  int
	cells []cell
	count int
}

// scanner reads RFC 4180 text. Go's encoding/csv is not used because it turns a
// quoted CR LF into LF, skips empty lines and stops at the first wrong line.
type scanner struct {
	file   string
	data   []byte
	pos    int
	line   int
	report func(Fault) // a fault that loses the line
	empty  func(Fault) // an empty line, which loses nothing
}

// scan reads all records. Wrong lines are reported and left out; whole says
// that no line with fields was.
func scan(file string, data []byte, report func(Fault)) (records []record, whole bool) {
	whole = true
	s := &scanner{file: file, line: 1, empty: report, data: bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))}
	s.report = func(f Fault) { whole = false; report(f) }
	for s.pos < len(s.data) {
		if s.line > MaxLines {
			s.report(Fault{File: file, Line: s.line, Got: fmt.Sprintf("more than %d lines", MaxLines),
				Want: fmt.Sprintf("at most %d lines in a file; split it over several folders and import one after the other", MaxLines)})
			return records, false
		}
		if r, ok := s.record(); ok {
			records = append(records, r)
		}
	}
	return records, whole
}

// record reads up to the end of the line; ok is false where it was reported.
func (s *scanner) record() (r record, ok bool) {
	r.line = s.line
	if s.lineEnd() {
		s.empty(Fault{File: s.file, Line: r.line, Got: "an empty line", Want: "a line with fields, or no line at all"})
		return r, false
	}
	ok = true
	for {
		r.count++
		c, good := s.field(r.count)
		if !good {
			s.skipLine()
			return r, false
		}
		if !s.fits(c, r.count) {
			ok = false
		}
		if r.count <= maxColumns {
			r.cells = append(r.cells, c)
		}
		if s.pos < len(s.data) && s.data[s.pos] == ',' {
			s.pos++
			continue
		}
		s.lineEnd()
		return r, ok
	}
}

// lineEnd takes a CR LF, an LF or the end of the text.
func (s *scanner) lineEnd() bool {
	rest := s.data[s.pos:]
	switch {
	case len(rest) == 0:
		return true
	case rest[0] == '\n':
		s.pos++
	case len(rest) > 1 && rest[0] == '\r' && rest[1] == '\n':
		s.pos += 2
	default:
		return false
	}
	s.line++
	return true
}

func (s *scanner) skipLine() {
	if i := bytes.IndexByte(s.data[s.pos:], '\n'); i >= 0 {
		s.pos += i + 1
		s.line++
		return
	}
	s.pos = len(s.data)
}

func (s *scanner) field(column int) (cell, bool) {
	if s.pos < len(s.data) && s.data[s.pos] == '"' {
		return s.quotedField(column)
	}
	c := cell{line: s.line}
	start := s.pos
	for ; s.pos < len(s.data); s.pos++ {
		switch s.data[s.pos] {
		case ',', '\n':
			c.text = string(s.data[start:s.pos])
			return c, s.validUTF8(start, s.pos, column)
		case '"':
			s.report(Fault{File: s.file, Line: s.line, Column: column, Got: "a quote inside a field that does not begin with one",
				Want: `the whole field between quotes, with "" for each quote in it`})
			return c, false
		case '\r':
			if s.pos+1 < len(s.data) && s.data[s.pos+1] == '\n' {
				c.text = string(s.data[start:s.pos])
				return c, s.validUTF8(start, s.pos, column)
			}
			s.report(Fault{File: s.file, Line: s.line, Column: column, Got: "a carriage return that ends no line",
				Want: "lines that end with carriage return and line feed"})
			return c, false
		}
	}
	c.text = string(s.data[start:])
	return c, s.validUTF8(start, len(s.data), column)
}

func (s *scanner) quotedField(column int) (cell, bool) {
	c := cell{line: s.line}
	s.pos++
	start := s.pos
	for ; s.pos < len(s.data); s.pos++ {
		switch s.data[s.pos] {
		case '\n':
			s.line++
		case '"':
			if s.pos+1 < len(s.data) && s.data[s.pos+1] == '"' {
				s.pos++
				continue
			}
			end := s.pos
			s.pos++
			if !s.validUTF8(start, end, column) {
				return c, false
			}
			c.text = strings.ReplaceAll(string(s.data[start:end]), `""`, `"`)
			if s.pos < len(s.data) && s.data[s.pos] != ',' && !s.atLineEnd() {
				s.report(Fault{File: s.file, Line: s.line, Column: column, Got: "text after a closing quote",
					Want: "a comma or the end of the line there"})
				return c, false
			}
			return c, true
		}
	}
	s.report(Fault{File: s.file, Line: c.line, Column: column, Got: "a quote that is never closed",
		Want: "a closing quote at the end of the field"})
	return c, false
}

func (s *scanner) atLineEnd() bool {
	return bytes.HasPrefix(s.data[s.pos:], []byte("\n")) || bytes.HasPrefix(s.data[s.pos:], []byte("\r\n"))
}

// validUTF8 reports the first byte of data[start:end] that is not UTF-8.
func (s *scanner) validUTF8(start, end, column int) bool {
	if utf8.Valid(s.data[start:end]) {
		return true
	}
	at := start
	for at < end {
		r, n := utf8.DecodeRune(s.data[at:end])
		if r == utf8.RuneError && n == 1 {
			break
		}
		at += n
	}
	line := s.line - bytes.Count(s.data[at:s.pos], []byte("\n"))
	in := at - bytes.LastIndexByte(s.data[:at], '\n')
	s.report(Fault{File: s.file, Line: line, Column: column,
		Got:  fmt.Sprintf("byte 0x%02X, byte %d of the line, which is not UTF-8", s.data[at], in),
		Want: "text in UTF-8; save the file again as CSV in UTF-8"})
	return false
}

// fits reports a field that is too long or holds a control character no text
// needs, NUL above all, which the database cannot keep.
func (s *scanner) fits(c cell, column int) bool {
	if len(c.text) > MaxFieldBytes {
		s.report(Fault{File: s.file, Line: c.line, Column: column, Got: fmt.Sprintf("a field of %d bytes", len(c.text)),
			Want: fmt.Sprintf("at most %d bytes in a field", MaxFieldBytes)})
		return false
	}
	if i := strings.IndexFunc(c.text, badControl); i >= 0 {
		s.report(Fault{File: s.file, Line: c.line, Column: column, Got: fmt.Sprintf("the control character U+%04X", c.text[i]),
			Want: "text without control characters other than tab and line breaks"})
		return false
	}
	return true
}

func badControl(r rune) bool {
	return r < ' ' && r != '\t' && r != '\r' && r != '\n' || r == 0x7f
}
