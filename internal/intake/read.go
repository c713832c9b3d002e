package intake

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"

	"tagalong/internal/core"
)

// Read reads the CSV files at the top of a folder, whole. It returns the bundle
// and no fault, or an empty bundle and every fault up to [MaxFaults].
func Read(fsys fs.FS, known Known) (Bundle, []Fault) {
	r := &reader{known: known, tables: map[string]*table{}, sink: &sink{}, needs: map[core.ItemRev]map[core.ItemRev]int{}}
	r.open(fsys)
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
	if faults := r.sink.list(); len(faults) > 0 {
		return Bundle{}, faults
	}
	return r.out, nil
}

// reader gathers one folder. Its maps give the place in out of each key, so
// that a later file can name it.
type reader struct {
	known  Known
	tables map[string]*table
	sink   *sink
	out    Bundle

	routeAt map[core.RouteRef]int
	itemAt  map[core.ItemRev]int
	orderAt map[string]int
	itemRow map[core.ItemRev]row
	billRow map[core.ItemRev]row // the first line of its bill
	needs   map[core.ItemRev]map[core.ItemRev]int
}

// open reads every file of the folder into tables. Only names ending in .csv
// are looked at, so that notes may lie beside them.
func (r *reader) open(fsys fs.FS) {
	entries, err := fs.ReadDir(fsys, ".")
	if err != nil {
		r.sink.add(Fault{Got: "that it cannot be read (" + reason(err) + ")", Want: "a folder with CSV files"})
		return
	}
	found := 0
	for _, e := range entries {
		if e.IsDir() || !strings.EqualFold(path.Ext(e.Name()), ".csv") {
			continue
		}
		found++
		sp, ok := specOf(e.Name())
		if !ok {
			want := "one of " + strings.Join(fileNames(), ", ")
			if n := nearest(stem(e.Name()), stems()); n != "" {
				want = "the name " + n + ".csv"
			}
			r.sink.add(Fault{File: e.Name(), Got: "a file of an unknown name", Want: want})
			continue
		}
		data, fault := readFile(fsys, sp.file)
		if fault != nil {
			r.sink.add(*fault)
			r.tables[sp.file] = nil
			continue
		}
		r.tables[sp.file] = newTable(sp, data, r.sink)
	}
	if found == 0 {
		r.sink.add(Fault{Got: "no CSV file", Want: "at least one of " + strings.Join(fileNames(), ", ")})
	}
}

func fileNames() []string {
	var out []string
	for _, s := range specs {
		out = append(out, s.file)
	}
	return out
}

func stem(name string) string { return strings.TrimSuffix(strings.ToLower(name), ".csv") }

func stems() []string {
	var out []string
	for _, n := range fileNames() {
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
	data, err := io.ReadAll(io.LimitReader(f, MaxFileBytes+1))
	if err != nil {
		return nil, unreadable(err)
	}
	if len(data) > MaxFileBytes {
		return nil, &Fault{File: name, Got: "more than 32 MiB",
			Want: "at most 32 MiB in a file; split it over several folders and import one after the other"}
	}
	return data, nil
}

// reason is the cause of a file error without the path, which says nothing new.
func reason(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// rows gives the lines of a file; none where it is absent or unusable.
func (r *reader) rows(file string) []row {
	if t := r.tables[file]; t != nil {
		return t.rows
	}
	return nil
}

// sound reports whether the file is absent or was read without leaving a line
// out. Where it was not, a key missing from it is not told as a second fault.
func (r *reader) sound(file string) bool {
	t, there := r.tables[file]
	return !there || t != nil && t.whole
}

// once records keys of one file and reports a second use of one.
type once map[string]row

func (o once) first(x row, field, what, key string) bool {
	if before, twice := o[key]; twice {
		x.fault(field, what+" again, first on line "+fmt.Sprint(before.line), "it once")
		return false
	}
	o[key] = x
	return true
}

// again reports a key the file gives in a form other than the stored one, for
// the things that never change once the shop has worked to them.
func again(x row, field, what, want string) {
	x.fault(field, what+" in another form than the shop has it", want)
}
