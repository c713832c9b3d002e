package postgres_test

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"tagalong/internal/core"
)

// The database and the core come to the same when a product is put together at
// the site: what is due is its components. An order closes by it.
func TestWhatOrdersAreDueIsTheSameInBoth(t *testing.T) {
	f := newFixture(t)
	f.imports(t, sampleFiles)
	book, err := f.Book(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	conn := connect(t, f.db.SuperURL)
	if _, err := conn.Exec(t.Context(), "SET search_path TO tagalong"); err != nil {
		t.Fatal(err)
	}
	products := 0
	for _, no := range orderNumbers(t, f) {
		w, err := f.LoadOrder(t.Context(), no)
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]int{}
		for _, l := range w.State.Orders[no].Lines {
			if book.Items[l.Item].Route.Name == "" {
				products++
			}
			for item, n := range core.Deliverables(book, l.Item, l.Qty) {
				want[fmt.Sprint(l.Line, " ", item.Item)] += n
			}
		}
		got := map[string]int{}
		rows, err := conn.Query(t.Context(), "SELECT line, item, qty FROM order_due($1)", []string{no})
		if err != nil {
			t.Fatal(err)
		}
		for rows.Next() {
			var line, qty int
			var item string
			if err := rows.Scan(&line, &item, &qty); err != nil {
				t.Fatal(err)
			}
			got[fmt.Sprint(line, " ", item)] = qty
		}
		if err := rows.Err(); err != nil {
			t.Fatal(err)
		}
		if !maps.Equal(got, want) {
			t.Errorf("order %s: due %v, want %v", no, got, want)
		}
	}
	if n := f.ordersAgree(t); n == 0 {
		t.Error("the sample nests are for no order")
	}
	if products == 0 {
		t.Error("no order of the samples asks for a product put together at the site")
	}
}

func orderNumbers(t testing.TB, f *fixture) []string {
	t.Helper()
	cards, err := f.Docket(t.Context(), 100)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, c := range cards {
		if c.Asked == 0 {
			t.Errorf("order %s is due nothing", c.No)
		}
		out = append(out, c.No)
	}
	slices.Sort(out)
	return out
}
