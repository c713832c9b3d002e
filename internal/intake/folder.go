package intake

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"

	"tagalong/internal/core"
)

// Folder is a folder's CSV files taken apart into lines and fields, not judged
// yet: what they name can be looked up before they are read.
type Folder struct {
	tables map[string]*table // by file name; nil where the file is of no use
	faults *sink             // found on opening
	out    Bundle            // what the last Read made of the lines that are right
	wrong  []Fault
	lines  map[string]map[int]bool // lines with a fault, by file, from the last Read
	known  Known
}

// File is one file that was sent: its name and all of its bytes.
type File struct {
	Name string
	Data []byte
}

// Open takes apart the CSV files at the top of a folder. Only names ending in
// .csv are looked at, so that notes may lie beside them.
func Open(fsys fs.FS) *Folder {
	f := newFolder()
	entries, err := fs.ReadDir(fsys, ".")
	if err != nil {
		f.faults.add(Fault{Got: "that it cannot be read (" + reason(err) + ")", Want: "a folder with CSV files"})
		return f
	}
	for _, e := range entries {
		if e.IsDir() || !isCSV(e.Name()) {
			continue
		}
		sp, ok := f.named(e.Name())
		if !ok {
			continue
		}
		data, fault := readFile(fsys, sp.file)
		if fault != nil {
			f.faults.add(*fault)
			f.tables[sp.file] = nil
			continue
		}
		f.tables[sp.file] = newTable(sp, data, f.faults)
	}
	f.settle()
	return f
}

// OpenFiles takes apart files that were chosen one by one: each of them is
// meant, so that a name nothing is known by is a fault.
func OpenFiles(files []File) *Folder {
	f := newFolder()
	for _, x := range files {
		if !isCSV(x.Name) {
			f.faults.add(Fault{File: x.Name, Got: "a file that is not CSV", Want: "a table saved as CSV in UTF-8, its name ending in .csv"})
			continue
		}
		sp, ok := f.named(x.Name)
		if !ok {
			continue
		}
		_, twice := f.tables[sp.file]
		switch {
		case twice:
			f.faults.add(Fault{File: x.Name, Got: "a second file of this name", Want: "each file once; put their lines into one"})
		case len(x.Data) > MaxFileBytes:
			f.faults.add(tooLarge(sp.file))
			f.tables[sp.file] = nil
		default:
			f.tables[sp.file] = newTable(sp, x.Data, f.faults)
		}
	}
	f.settle()
	return f
}

func newFolder() *Folder { return &Folder{tables: map[string]*table{}, faults: &sink{}} }

func isCSV(name string) bool { return strings.EqualFold(path.Ext(name), ".csv") }

// named finds what is known of a file by its name, or reports that nothing is.
func (f *Folder) named(name string) (spec, bool) {
	sp, ok := specOf(name)
	if !ok {
		want := "one of " + strings.Join(FileNames(), ", ")
		if n := nearest(stem(name), stems()); n != "" {
			want = "the name " + n + ".csv"
		}
		f.faults.add(Fault{File: name, Got: "a file of an unknown name", Want: want})
	}
	return sp, ok
}

// settle finds what is wrong with the folder as a whole.
func (f *Folder) settle() {
	if len(f.tables) == 0 && len(f.faults.faults) == 0 {
		f.faults.add(Fault{Got: "no CSV file", Want: "at least one of " + strings.Join(FileNames(), ", ")})
	}
	f.half()
}

// FileNames lists the files there can be, in the order they are read.
func FileNames() []string {
	var out []string
	for _, s := range specs {
		out = append(out, s.file)
	}
	return out
}

func stem(name string) string { return strings.TrimSuffix(strings.ToLower(name), ".csv") }

func stems() []string {
	var out []string
	for _, n := range FileNames() {
		out = append(out, stem(n))
	}
	return out
}

// readFile reads at most MaxFileBytes, whatever the file says its size is.
func readFile(fsys fs.FS, name string) ([]byte, *Fault) {
	unreadable := func(err error) *Fault {
		return &Fault{File: name, Got: "that it cannot be read (" + reason(err) + ")", Want: "a file this program may read"}
	}
	f, err := fsys.Open(name)
	if err != nil {
		return nil, unreadable(err)
	}
	defer f.Close()
	var data bytes.Buffer
	if info, err := f.Stat(); err == nil {
		data.Grow(int(min(info.Size(), MaxFileBytes)) + bytes.MinRead)
	}
	if _, err := data.ReadFrom(io.LimitReader(f, MaxFileBytes+1)); err != nil {
		return nil, unreadable(err)
	}
	if data.Len() > MaxFileBytes {
		fault := tooLarge(name)
		return nil, &fault
	}
	return data.Bytes(), nil
}

func tooLarge(name string) Fault {
	return Fault{File: name, Got: fmt.Sprintf("more than %d MiB", MaxFileBytes>>20),
		Want: fmt.Sprintf("at most %d MiB in a file; split it over several folders and import one after the other", MaxFileBytes>>20)}
}

// reason is the cause of a file error without the path, which says nothing new.
func reason(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// Asks lists what the files name of what the shop may have already.
func (f *Folder) Asks() Asked {
	return Asked{
		Orders: f.field("order", "orders.csv", "lines.csv", "nests.csv"),
		Nests:  f.field("nest", "nests.csv"),
		Sheets: f.field("sheet", "sheets.csv"),
		Bought: f.field("delivery", "bought.csv"),
	}
}

// field gathers one column over some files.
func (f *Folder) field(column string, files ...string) []string {
	var out []string
	for _, name := range files {
		t := f.tables[name]
		if t == nil {
			continue
		}
		for _, x := range t.rows {
			if s, _ := x.cell(column); s != "" {
				out = append(out, s)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Read judges every line against the others and against what the shop has. It
// returns the bundle and no fault, or an empty bundle and every fault up to
// [MaxFaults].
func (f *Folder) Read(known Known) (Bundle, []Fault) {
	r := &reader{known: known, tables: f.tables, sink: f.faults.clone(), needs: map[core.ItemRev]map[core.ItemRev]int{}}
	for _, t := range f.tables {
		if t != nil {
			t.sink = r.sink
		}
	}
	r.stations()
	r.people()
	r.instruments()
	r.batches()
	r.routes()
	r.items()
	r.bills()
	r.orders()
	r.nests()
	r.sheets()
	r.bought()
	f.out, f.wrong, f.lines, f.known = r.out, r.sink.list(), r.sink.lines, known
	if len(f.wrong) > 0 {
		return Bundle{}, f.wrong
	}
	return f.out, nil
}
