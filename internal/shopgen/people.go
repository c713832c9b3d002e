package shopgen

import (
	"fmt"
	"maps"
	"slices"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/sign"
)

// FirstAdmin is the name of the shop's first admin, made as on any new server.
const FirstAdmin = "Hester Quillan"

// Lost is the person who lost a badge and has a second one.
const Lost core.PersonID = "P29"

// admit makes the first admin with badge and PIN.
func (f *floor) admit() error {
	f.svc.Random = Random("first admin")
	p, badge, code, err := f.svc.FirstAdmin(f.ctx, FirstAdmin)
	if err != nil {
		return fmt.Errorf("the first admin: %w", err)
	}
	f.admin = app.Caller{Person: p.ID, Name: p.Name, Roles: p.Roles}
	f.badges[p.ID] = badge.Text()
	return f.setPIN(p.ID, badge, code)
}

func (f *floor) setPIN(p core.PersonID, badge sign.Badge, code sign.OneTime) error {
	pin := PIN(p)
	if _, err := f.svc.SetPIN(f.ctx, badge.Text(), code.Text(), pin, pin); err != nil {
		return fmt.Errorf("the PIN of %s: %w", p, err)
	}
	return nil
}

// badge gives everybody who is still here a badge and lets them set a PIN.
func (f *floor) badgeAll() error {
	for _, id := range slices.Sorted(maps.Keys(f.book.People)) {
		if p := f.book.People[id]; p.Left || id == f.admin.Person {
			continue
		}
		issues := 1
		if id == Lost {
			issues = 2
		}
		var badge sign.Badge
		for n := 1; n <= issues; n++ {
			f.svc.Random = badgeStream(id, n)
			var err error
			if badge, _, err = f.svc.IssueBadge(f.ctx, f.admin, id); err != nil {
				return fmt.Errorf("the badge of %s: %w", id, err)
			}
		}
		f.badges[id] = badge.Text()
		f.svc.Random = Random("PIN code of " + string(id))
		code, _, err := f.svc.PINCode(f.ctx, f.admin, id)
		if err != nil {
			return fmt.Errorf("the PIN code of %s: %w", id, err)
		}
		if err := f.setPIN(id, badge, code); err != nil {
			return err
		}
	}
	return nil
}

// enrolAll enrols one tablet at every station.
func (f *floor) enrolAll() error {
	for _, id := range slices.Sorted(maps.Keys(f.book.Stations)) {
		f.svc.Random = Random("tablet of " + string(id))
		code, err := f.svc.EnrolmentCode(f.ctx, f.admin, id)
		if err != nil {
			return fmt.Errorf("the tablet of %s: %w", id, err)
		}
		secret, _, err := f.svc.Enrol(f.ctx, code.Text())
		if err != nil {
			return fmt.Errorf("the tablet of %s: %w", id, err)
		}
		caller, err := f.svc.CallerOf(f.ctx, app.Secrets{Tablet: secret.Text()})
		if err != nil {
			return fmt.Errorf("the tablet of %s: %w", id, err)
		}
		f.tablets[id] = caller
	}
	return nil
}

// desk signs somebody in to the office pages.
func (f *floor) desk(who core.PersonID) (app.Caller, error) {
	token, _, err := f.svc.SignIn(f.ctx, app.Caller{}, app.Sign{Badge: f.badges[who], PIN: PIN(who)})
	if err != nil {
		return app.Caller{}, fmt.Errorf("sign %s in: %w", who, err)
	}
	return f.svc.CallerOf(f.ctx, app.Secrets{Session: token})
}

// crew is who usually works where, the early shift first.
var crew = map[core.StationID][]core.PersonID{
	"GOODS-1": {"P08", "P16"}, "LASER-1": {"P21", "P22"}, "LASER-2": {"P21", "P22"}, "TUBE-1": {"P24", "P16"},
	"BENCH-1": {"P06", "P08"}, "BENCH-2": {"P07", "P08"}, "ROUND-AL": {"P09", "P16"}, "ROUND-SS": {"P16", "P09"},
	"HAND-AL": {"P09", "P16"}, "HAND-SS": {"P16", "P09"}, "BRAKE-1": {"P17", "P21"}, "BRAKE-2": {"P22", "P17"}, "BRAKE-3": {"P17", "P22"},
	"WELD-1": {"P12", "P13"}, "WELD-2": {"P13", "P15"}, "WELD-3": {"P15", "P12"}, "WELD-4": {"P10", "P12"},
	"INSPECT-1": {"P18", "P19"}, "HARDWARE-1": {"P29", "P22"}, "PRETREAT-1": {"P23", "P24"}, "BOOTH-1": {"P24", "P23"}, "BOOTH-2": {"P23", "P24"},
	"OVEN-1": {"P23", "P24"}, "COAT-TABLE-1": {"P20", "P18"}, "DOCK-1": {"P26", "P25"}, "SITE-LARKFIELD": {"P27", "P28"}, "SITE-FARNESS": {"P28", "P27"},
}

// Usual is who is at a station of the demo at an hour of its day, by shift;
// empty where nobody usually is.
func Usual(at core.StationID, hour int) core.PersonID {
	usual := crew[at]
	if len(usual) == 0 {
		return ""
	}
	if hour >= 14 {
		return usual[len(usual)-1]
	}
	return usual[0]
}

// who signs a stage on a lot at a station: of its crew by the time of day, else
// anybody who may.
func (f *floor) who(at core.StationID, stage core.Stage, step core.Step, lots []core.Lot) (core.PersonID, error) {
	usual := slices.Clone(crew[at])
	if f.hour() >= 14 {
		slices.Reverse(usual)
	}
	for _, id := range append(usual, slices.Sorted(maps.Keys(f.book.People))...) {
		if !slices.ContainsFunc(lots, func(l core.Lot) bool { return !f.may(id, stage, step, l) }) {
			return id, nil
		}
	}
	return "", fmt.Errorf("nobody may sign %s at %s", stage.Name, at)
}

func (f *floor) may(id core.PersonID, stage core.Stage, step core.Step, l core.Lot) bool {
	p := f.book.People[id]
	process := stage.Qualification
	if step.Qualification != "" {
		process = step.Qualification
	}
	switch {
	case p.Left, f.badges[id] == "", len(stage.Roles) > 0 && !p.Is(stage.Roles...):
		return false
	case stage.NotMakerOf != "" && slices.Contains(l.Makers[stage.NotMakerOf], id):
		return false
	case process == "":
		return true
	}
	rev := f.book.Items[l.Item]
	return slices.ContainsFunc(p.Qualifications, func(q core.Qualification) bool {
		return q.Process == process && (q.Metal == "" || rev.Metal == "" || q.Metal == rev.Metal) &&
			(q.MaxThickness == 0 || rev.Thickness <= q.MaxThickness) && !q.ValidTo.Before(f.today()) && !q.ConfirmBy.Before(f.today())
	})
}
