package intake_test

import (
	"io/fs"
	"reflect"
	"strings"
	"testing"

	"tagalong/internal/intake"
)

// TestTypedIsReadAsImported types the rows of the tiny folder and gets what the
// folder itself gives.
func TestTypedIsReadAsImported(t *testing.T) {
	want, faults := intake.Read(folder(tiny), emptyShop())
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	rows := intake.Typed{}
	for file, text := range tiny {
		lines := strings.Split(strings.TrimSpace(text), "\n")
		columns := strings.Split(lines[0], ",")
		for _, line := range lines[1:] {
			row := map[string]string{}
			for i, field := range strings.Split(line, ",") {
				row[columns[i]] = "  " + field + "\n"
			}
			rows[file] = append(rows[file], row)
		}
	}
	got, faults := intake.Read(folderOf(t, rows), emptyShop())
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("typed:    %+v\nimported: %+v", got, want)
	}
}

// TestTypedText keeps what CSV and spreadsheets would take for something else.
func TestTypedText(t *testing.T) {
	for _, name := range []string{`plate "left", 3 mm`, "=1+1", "'=1+1", "''", "-5", "@x", "Bögel, ø 8", "'s"} {
		got, faults := intake.Read(folderOf(t, intake.Typed{"instruments.csv": {
			{"instrument": "G-1", "kind": "gauge", "name": name, "due_by": "2027-01-01"},
		}}), emptyShop())
		if len(faults) > 0 || got.Instruments[0].Name != name {
			t.Errorf("%q came as %+v, faults %v", name, got.Instruments, faults)
		}
	}
}

// TestTypedFault names the row as its line, so that a page finds its field.
func TestTypedFault(t *testing.T) {
	_, faults := intake.Read(folderOf(t, intake.Typed{"batches.csv": {
		{"batch": "B-1", "kind": "powder"}, {"batch": "B-2", "kind": "powder", "expires": "tomorrow"}, {"batch": "B-\x003", "kind": "bath"},
	}}), emptyShop())
	if len(faults) != 2 || faults[0].Line != 3 || faults[0].Field != "expires" || faults[1].Line != 4 {
		t.Errorf("got %v", faults)
	}
}

func TestTypedWrongly(t *testing.T) {
	for _, rows := range []intake.Typed{{"batch.csv": nil}, {"batches.csv": {{"bath": "B-1"}}}} {
		if _, err := rows.Folder(); err == nil {
			t.Errorf("%v made a folder", rows)
		}
	}
}

func folderOf(t *testing.T, rows intake.Typed) fs.FS {
	t.Helper()
	f, err := rows.Folder()
	if err != nil {
		t.Fatal(err)
	}
	return f
}
