package app

import (
	"fmt"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// namesOf is what a store is asked for before files can be read.
func namesOf(a intake.Asked) PlannedNames {
	n := PlannedNames{Orders: a.Orders, Nests: a.Nests}
	for _, no := range a.Sheets {
		n.Goods = append(n.Goods, sheetID(no))
	}
	for _, no := range a.Bought {
		n.Goods = append(n.Goods, deliveryID(no))
	}
	return n
}

// knownOf is what the shop has, as the reader of files wants it.
func knownOf(p Planned) intake.Known {
	k := intake.Known{Book: p.Book, Have: intake.Have{Orders: map[string]core.Order{}, Nests: map[string]core.Nest{},
		Sheets: map[string]intake.Sheet{}, Bought: map[string]intake.Bought{}}}
	for _, o := range p.Orders {
		k.Orders[o.No] = o
	}
	for _, n := range p.Nests {
		k.Nests[n.ID] = n
	}
	for _, e := range p.Goods {
		switch sheet, bought := goodsOf(e); {
		case sheet != nil:
			k.Sheets[sheet.No] = *sheet
		case bought != nil:
			k.Bought[bought.No] = *bought
		}
	}
	return k
}

// readAs reads files for somebody. People's roles decide who may do what, so
// only an admin changes them, by a file as on a page.
func readAs(by importer, folder *intake.Folder, k intake.Known) (intake.Bundle, []intake.Fault) {
	bundle, faults := folder.Read(k)
	if len(faults) > 0 {
		return bundle, faults
	}
	people := bundle.News(k).People
	if len(people) == 0 {
		return bundle, nil
	}
	if !by.all {
		return intake.Bundle{}, []intake.Fault{{File: "people.csv", Got: countPeople(len(people)) + " who would be new or changed, and you are no admin",
			Want: "an admin to import people, or people.csv and qualifications.csv left out"}}
	}
	if lastAdminGoes(k.Book, people) {
		return intake.Bundle{}, []intake.Fault{{File: "people.csv", Got: "the last admin without that role, or as one who has left",
			Want: "somebody with the role admin who is still here, or nobody could give badges any more"}}
	}
	return bundle, nil
}

func countPeople(n int) string {
	if n == 1 {
		return "1 person"
	}
	return fmt.Sprintf("%d people", n)
}

// lastAdminGoes reports that a shop with an admin would have none.
func lastAdminGoes(b *core.Book, changed []core.Person) bool {
	is := map[core.PersonID]bool{}
	for id, p := range b.People {
		if p.Is(core.Admin) && !p.Left {
			is[id] = true
		}
	}
	before := len(is)
	for _, p := range changed {
		if delete(is, p.ID); p.Is(core.Admin) && !p.Left {
			is[p.ID] = true
		}
	}
	return before > 0 && len(is) == 0
}
