package app

import (
	"context"
	"errors"
	"fmt"
	"reflect"

	"tagalong/internal/core"
	"tagalong/internal/intake"
)

// ImportPlan is what an import would do to the shop as it is now.
type ImportPlan struct {
	Files  []intake.FileChange // of the files that were sent, in the order they are read
	Notes  []intake.Note
	Faults []intake.Fault // where there are any, nothing can be stored
}

// Nothing says that the shop has all of it already.
func (p ImportPlan) Nothing() bool {
	for _, f := range p.Files {
		if len(f.Changes) > 0 {
			return false
		}
	}
	return len(p.Faults) == 0
}

// Count adds up a verdict over all files.
func (p ImportPlan) Count(v intake.Verdict) int {
	n := 0
	for _, f := range p.Files {
		n += f.Counts[v]
	}
	return n
}

// PlanImport reads files that an admin or a manager sent, and stores nothing.
func (s *Service) PlanImport(ctx context.Context, by Caller, files []intake.File) (ImportPlan, error) {
	who, err := importerOf(by)
	if err != nil {
		return ImportPlan{}, err
	}
	folder := intake.OpenFiles(files)
	names := namesOf(folder.Asks())
	planned, err := s.Store.Planned(ctx, &names)
	if err != nil {
		return ImportPlan{}, fmt.Errorf("look at what the shop has: %w", err)
	}
	plan, _ := planOf(who, folder, knownOf(planned))
	return plan, nil
}

func planOf(by importer, folder *intake.Folder, k intake.Known) (ImportPlan, intake.Bundle) {
	bundle, faults := readAs(by, folder, k)
	return ImportPlan{Files: folder.Changes(), Notes: bundle.Notes, Faults: faults}, bundle
}

// ErrPlanMoved says that files would no longer do to the shop what was shown,
// and that nothing was stored.
var ErrPlanMoved = errors.New("the shop has changed since the files were read")

// ImportFiles stores what files say, all of it or nothing, where that is still
// what was seen of them. Where it is not, it returns the new plan, with
// ErrPlanMoved.
func (s *Service) ImportFiles(ctx context.Context, by Caller, files []intake.File, seen ImportPlan) (Imported, ImportPlan, error) {
	who, err := importerOf(by)
	if err != nil {
		return Imported{}, ImportPlan{}, err
	}
	folder := intake.OpenFiles(files)
	var out Imported
	var now ImportPlan
	err = s.bring(ctx, who.id, namesOf(folder.Asks()), func(k intake.Known) (Bring, error) {
		var bundle intake.Bundle
		now, bundle = planOf(who, folder, k)
		if len(now.Faults) > 0 || !reflect.DeepEqual(now.Files, seen.Files) {
			return Bring{}, ErrPlanMoved
		}
		var bring Bring
		var err error
		out, bring, err = s.brought(who.id, importedByPage, bundle, k)
		return bring, err
	})
	if err != nil {
		return Imported{}, now, err
	}
	return out, now, nil
}

// importedByPage is the source of what was imported by page, for the record.
const importedByPage = "import by page"

// importerOf lets in whom the command enlist lets in.
func importerOf(by Caller) (importer, error) {
	switch {
	case by.machine:
		return importer{all: true}, nil
	case !by.SignedIn():
		return importer{}, Refuse("needs-sign-in", "kind", "an import")
	case !by.Is(core.Admin, core.Manager):
		return importer{}, roleRefusal(by.Person, by.Name, []core.Role{core.Admin, core.Manager})
	}
	return importer{by.Person, by.Is(core.Admin)}, nil
}
