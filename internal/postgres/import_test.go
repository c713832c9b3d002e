package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/intake"
)

var sampleFiles = os.DirFS("../../testdata/samples")

// service is the import's use cases over the store.
func (f *fixture) service(decide func(core.World, core.Command) core.Outcome) *app.Service {
	return &app.Service{Store: f.Store, Clock: f.clock.Now, Decide: decide}
}

// imports reads files that must be right.
func (f *fixture) imports(t testing.TB, files fs.FS) app.Imported {
	t.Helper()
	got, faults, err := f.service(core.Decide).Import(t.Context(), "", "a test", files)
	if err != nil {
		t.Fatal(err)
	}
	if len(faults) > 0 {
		t.Fatalf("%d faults, the first: %v", len(faults), faults[0])
	}
	return got
}

// rowsOf counts the rows of every table of the catalogue, the record and the state.
func (f *fixture) rowsOf(t testing.TB) map[string]int {
	t.Helper()
	out := map[string]int{}
	conn := connect(t, f.db.SuperURL)
	for _, table := range strings.Fields(`stage route item station person instrument batch book_change event event_pallet event_lot move
		signature reading step_input command pallet lot lot_heat lot_sheet orders order_line nest`) {
		n := 0
		if err := conn.QueryRow(t.Context(), "SELECT count(*) FROM tagalong."+table).Scan(&n); err != nil {
			t.Fatal(err)
		}
		out[table] = n
	}
	return out
}

// lastGoods is the last delivery of the samples, after which nothing is left to do.
const lastGoods = "D-2609"

// atLast does something when the last goods of the samples are decided on.
func atLast(do func() *core.Refusal) func(core.World, core.Command) core.Outcome {
	return func(w core.World, c core.Command) core.Outcome {
		if g, ok := c.Body.(core.ReceiveGoods); ok && g.Label == lastGoods {
			if r := do(); r != nil {
				return core.Outcome{Refusal: r}
			}
		}
		return core.Decide(w, c)
	}
}

// An import that breaks off at its very end leaves nothing, whatever it broke
// off for; the next one brings all, and the one after that nothing.
func TestAnImportIsAllOrNothing(t *testing.T) {
	f := newFixture(t)
	nothing := f.rowsOf(t)
	bundle, faults := intake.Read(sampleFiles, intake.Known{Book: &core.Book{Table: core.DefaultStages()}})
	if len(faults) > 0 || bundle.Bought[len(bundle.Bought)-1].No != lastGoods {
		t.Fatalf("the last goods of the samples are %+v, not %s", bundle.Bought[len(bundle.Bought)-1], lastGoods)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	reached := 0
	for _, c := range []struct {
		what   string
		ctx    context.Context
		do     func() *core.Refusal
		broken func(error) bool
	}{
		{"a refusal", t.Context(), func() *core.Refusal { reached++; return &core.Refusal{Code: "material-not-identified"} },
			func(err error) bool {
				r, ok := errors.AsType[*app.Refused](err)
				return ok && r.Refusal.Code == "material-not-identified"
			}},
		{"a cancelled request", ctx, func() *core.Refusal { reached++; cancel(); return nil },
			func(err error) bool { return errors.Is(err, context.Canceled) }},
		{"a killed connection", t.Context(), func() *core.Refusal { reached++; f.killImports(t); return nil },
			func(err error) bool { return err != nil }},
	} {
		_, faults, err := f.service(atLast(c.do)).Import(c.ctx, "", "a test", sampleFiles)
		if len(faults) > 0 || !c.broken(err) {
			t.Errorf("%s: %v %v", c.what, err, faults)
		}
		if after := f.rowsOf(t); !maps.Equal(after, nothing) {
			t.Errorf("%s left %v", c.what, after)
		}
	}
	if reached != 3 {
		t.Errorf("the last goods were reached %d times, want 3", reached)
	}
	refusals := must(f.Refusals(t.Context(), app.RefusalQuery{Limit: 10}))(t)
	if len(refusals) != 1 || refusals[0].Kind != "receive-goods" {
		t.Errorf("the refusal is on record as %+v", refusals)
	}

	got := f.imports(t, sampleFiles)
	whole := f.rowsOf(t)
	if want := len(bundle.Sheets) + len(bundle.Bought); whole["lot"] != want || whole["pallet"] != want || whole["orders"] != 12 || whole["item"] != len(bundle.Items) || got.Added() == 0 {
		t.Errorf("the import brought %v", whole)
	}
	if got := f.imports(t, sampleFiles); got.Added() != 0 {
		t.Errorf("the second import adds %+v", got.Rows)
	}
	if again := f.rowsOf(t); !maps.Equal(again, whole) {
		t.Errorf("after the second import there is %v, after the first %v", again, whole)
	}
	f.verified(t)
}

// killImports ends the server process that an import works in.
func (f *fixture) killImports(t testing.TB) {
	t.Helper()
	n := 0
	if err := connect(t, f.db.SuperURL).QueryRow(context.Background(), `
		SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity
		WHERE datname = current_database() AND state = 'idle in transaction'`).Scan(&n); err != nil || n != 1 {
		t.Errorf("ended %d connections: %v", n, err)
	}
}

// Two imports of the same files at once bring everything once.
func TestTwoImportsAtOnce(t *testing.T) {
	f := newFixture(t)
	var wait sync.WaitGroup
	var added [2]int
	for i := range added {
		wait.Go(func() {
			got, faults, err := f.service(core.Decide).Import(t.Context(), "", "a test", sampleFiles)
			if err != nil || len(faults) > 0 {
				t.Errorf("import: %v %v", err, faults)
			}
			added[i] = got.Added()
		})
	}
	wait.Wait()
	if min(added[0], added[1]) != 0 || max(added[0], added[1]) == 0 {
		t.Errorf("they added %v things, want one of them nothing", added)
	}
	f.verified(t)
}

// An order that is given back a date it had once has it again.
func TestAnOrderIsChangedBack(t *testing.T) {
	f := newFixture(t)
	f.imports(t, sampleFiles)
	day := func(d string) fs.FS {
		return fstest.MapFS{"orders.csv": {Data: []byte("order,customer,site,reference,promised\n" +
			"O-4105,Brackenmoor Hospital Estates,SITE-LARKFIELD,BHE/26/902 spare panels," + d + "\n")}}
	}
	for _, d := range []string{"2026-11-30", "2026-12-01", "2026-11-30"} {
		got := f.imports(t, day(d))
		w := must(f.Load(t.Context(), core.Names{Orders: []string{"O-4105"}}, ""))(t)
		if o := w.State.Orders["O-4105"]; string(o.Promised) != d || len(o.Lines) != 3 || got.Added() != 1 {
			t.Errorf("asked for %s, promised %s with %d lines, %+v", d, o.Promised, len(o.Lines), got.Rows)
		}
	}
	f.verified(t)
}

// many is a shop's files with about n lines, half of them of what is planned
// and half of goods.
func many(n int) fstest.MapFS {
	out := fstest.MapFS{}
	read := func(name string) *strings.Builder {
		data, err := fs.ReadFile(sampleFiles, name)
		if err != nil {
			panic(err)
		}
		b := &strings.Builder{}
		b.Write(data)
		return b
	}
	files := map[string]*strings.Builder{}
	for _, name := range intake.FileNames() {
		files[name] = read(name)
	}
	columns := func(name string) []string {
		head, _, _ := strings.Cut(files[name].String(), "\r\n")
		return strings.Split(strings.TrimPrefix(head, "\ufeff"), ",")
	}
	line := func(name string, values map[string]string) {
		var fields []string
		for _, c := range columns(name) {
			fields = append(fields, values[c])
		}
		files[name].WriteString(strings.Join(fields, ",") + "\r\n")
	}
	for i := range n / 8 {
		no, item := fmt.Sprintf("Q-%05d", i), fmt.Sprintf("XB-%05d", i)
		line("items.csv", map[string]string{"item": item, "rev": "A", "kind": "part", "name": "extra bracket " + no, "grade": "304", "metal": "stainless",
			"thickness_mm": "2", "length_mm": "80", "width_mm": "40", "route": "BARE-FLAT", "route_version": "1"})
		line("orders.csv", map[string]string{"order": no, "customer": "Customer " + no, "promised": "2026-12-18"})
		line("lines.csv", map[string]string{"order": no, "line": "1", "item": item, "rev": "A", "qty": "4"})
		line("nests.csv", map[string]string{"nest": "NQ-" + fmt.Sprint(i/10), "material": "SH-304-2", "material_rev": "1", "part": fmt.Sprint(i%10 + 1),
			"item": item, "rev": "A", "order": no, "line": "1", "qty": "4"})
		for k := range 3 {
			line("sheets.csv", map[string]string{"sheet": fmt.Sprintf("MQ-%05d-%d", i, k), "material": "SH-304-2", "material_rev": "1", "heat": "HQ-1", "certificate": "C-1"})
		}
		line("bought.csv", map[string]string{"delivery": "DQ-" + no, "item": boughtItem, "rev": boughtRev, "qty": "500", "batch": "B-1"})
	}
	for name, b := range files {
		out[name] = &fstest.MapFile{Data: []byte(b.String())}
	}
	return out
}

// A bought item of the samples.
const boughtItem, boughtRev = "RN-M6", "1"

// TestTenThousandLinesAreStored stores a shop's whole year; how long that takes
// is measured by BenchmarkImport10000Lines.
func TestTenThousandLinesAreStored(t *testing.T) {
	f := newFixture(t)
	files := many(10_000)
	if got := f.imports(t, files); got.Added() == 0 {
		t.Fatalf("nothing was added: %+v", got)
	}
	rows := f.rowsOf(t)
	if rows["lot"] < 5_000 || rows["orders"] < 1_250 || rows["command"] != rows["lot"]+2 {
		t.Errorf("stored %v", rows)
	}
	if got := f.imports(t, files); got.Added() != 0 {
		t.Errorf("read again, it adds %+v", got.Rows)
	}
	f.verified(t)
}

// BenchmarkImport10000Lines is a whole import: read, judged and stored.
func BenchmarkImport10000Lines(b *testing.B) {
	files := many(10_000)
	for b.Loop() {
		b.StopTimer()
		f := newFixture(b)
		b.StartTimer()
		f.imports(b, files)
	}
}

// exported writes everything as files.
func (f *fixture) exported(t testing.TB) map[string][]byte {
	t.Helper()
	b, err := f.service(core.Decide).Export(t.Context(), app.Machine())
	if err != nil {
		t.Fatal(err)
	}
	files, err := intake.Files(b)
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func folderOf(files map[string][]byte) fstest.MapFS {
	out := fstest.MapFS{}
	for name, data := range files {
		out[name] = &fstest.MapFile{Data: data}
	}
	return out
}

// TestExportComesRound: what is exported makes, in an empty shop, a shop that
// exports the same bytes; and to the shop it came from it adds nothing.
func TestExportComesRound(t *testing.T) {
	one, two := newFixture(t), newFixture(t)
	one.imports(t, sampleFiles)
	first := one.exported(t)
	if names := slices.Sorted(maps.Keys(first)); len(names) != len(intake.FileNames()) {
		t.Fatalf("exported %v", names)
	}
	for name, data := range first {
		sample, err := fs.ReadFile(sampleFiles, name)
		if err != nil {
			t.Fatal(err)
		}
		// Nests that cut more than is asked have a line more, for stock.
		if got, want := strings.Count(string(data), "\n"), strings.Count(string(sample), "\n"); got != want && name != "nests.csv" {
			t.Errorf("%s has %d lines and the sample %d", name, got, want)
		}
	}
	two.imports(t, folderOf(first))
	second := two.exported(t)
	for name := range first {
		if string(first[name]) != string(second[name]) {
			t.Errorf("%s differs:\n%.400s\n%.400s", name, first[name], second[name])
		}
	}
	if got := one.imports(t, folderOf(first)); got.Added() != 0 {
		t.Errorf("read back, it adds %+v", got.Rows)
	}
}

// An order that is brought anew asks for no less than it has: the files are
// refused whole, and taken once the surplus is gone.
func TestAnImportedOrderAsksForWhatItHas(t *testing.T) {
	f := newFixture(t)
	f.imports(t, sampleFiles)
	brackets := core.Lot{ID: "brackets/1", Item: core.ItemRev{Item: "BK-90", Rev: "A"}, Owner: core.Owner{Order: "O-4103", Line: 2}}
	f.do(t, "brackets", core.Names{}, func(w core.World) core.Outcome {
		brackets.Place, brackets.Arrived = core.On(w.Fresh[0]), w.Now
		return happen("brackets", w, core.EvGoodsReceived,
			core.Effect{PalletPut: &core.PalletRow{Code: w.Fresh[0], Kind: core.PalletCarrier, Station: "BENCH-1", Since: w.Now, Version: 1}},
			core.Effect{LotBorn: &brackets},
			core.Effect{Moved: &core.Move{Lot: brackets.ID, Item: brackets.Item, From: core.Place{Kind: core.FromSupplier}, To: brackets.Place, Qty: 12}})
	})
	ten := fstest.MapFS{
		"orders.csv": {Data: []byte("order,customer,site,reference,promised,long_haul,priority,consent\nO-4103,Pellow Quay Bus Depot,SITE-FARNESS,PQ 7731,2026-12-04,yes,,yes\n")},
		"lines.csv":  {Data: []byte("order,line,item,rev,qty\nO-4103,1,ENC-3600,A,1\nO-4103,2,BK-90,A,10\n")},
	}
	_, faults, err := f.service(core.Decide).Import(t.Context(), "", "a test", ten)
	r, refused := errors.AsType[*app.Refused](err)
	if !refused || r.Refusal.Code != "order-below-made" || r.Refusal.Params["have"] != "12" || r.Refusal.Params["asked"] != "10" || len(faults) > 0 {
		t.Fatalf("ten of twelve: %v %v", err, faults)
	}

	f.do(t, "two", core.Names{Lots: []core.LotID{brackets.ID}}, func(w core.World) core.Outcome {
		return happen("two", w, core.EvDisposed,
			core.Effect{Moved: &core.Move{Lot: brackets.ID, Item: brackets.Item, From: brackets.Place, To: core.Place{Kind: core.Scrapped, Ref: "two"}, Qty: 2}})
	})
	f.imports(t, ten)
	f.verified(t)
}
