package app

import (
	"context"
	"fmt"

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
	bundle, faults := readAs(who, folder, knownOf(planned))
	return ImportPlan{Files: folder.Changes(), Notes: bundle.Notes, Faults: faults}, nil
}

// ImportFiles stores what files say, all of it or nothing; see [Service.Import].
func (s *Service) ImportFiles(ctx context.Context, by Caller, files []intake.File) (Imported, []intake.Fault, error) {
	who, err := importerOf(by)
	if err != nil {
		return Imported{}, nil, err
	}
	return s.importFolder(ctx, who, "import by page", intake.OpenFiles(files))
}

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
