package shopgen

import (
	"fmt"
	"time"

	"tagalong/internal/core"
)

// The order lines the story is about.
var (
	hospital  = core.Owner{Order: "O-4101", Line: 1} // one ENC-2400, late
	spareDoor = core.Owner{Order: "O-4105", Line: 2}
	louvres   = core.Owner{Order: "O-4109", Line: 1}
)

// work is the story of the last three days, a phase after the other. Within a
// phase pallets move side by side, and the others go on with what is theirs.
func (f *floor) work() error {
	if _, err := f.svc.ImportBundle(f.ctx, f.admin.Person, "delivery notes", f.stock); err != nil {
		return err
	}
	f.meanwhile = func() error { _, err := f.othersWork(); return err }
	defer func() { f.meanwhile = nil }()
	for i, phase := range []func() error{f.brackets, f.frame, f.panels, f.doors, f.banks, f.lastHour} {
		if err := phase(); err != nil {
			return fmt.Errorf("phase %d: %w", i+1, err)
		}
	}
	return nil
}

// brackets: one stainless sheet for three orders and stock. The roofer's part
// order leaves on a truck, short of the cable brackets, as agreed.
func (f *floor) brackets() error {
	sheet, err := f.cut("N-7010", "LASER-1", "BENCH-1")
	if err != nil {
		return err
	}
	on, err := f.separate(sheet, "N-7010", part{line: 3, to: "A", damaged: 1}, part{line: 9, to: "A"}, part{line: 6, to: "A"},
		part{line: 1, to: "B"}, part{line: 4, to: "B"}, part{line: 2, to: "B"}, part{line: 5, to: "B"}, part{line: 7, to: "B"}, part{line: 8, to: "B"},
		part{line: 10, to: "C"}, part{line: 11, to: "C"})
	if err != nil {
		return err
	}
	if err := f.refused("wrong-station", "BENCH-1", f.allOf(on["A"], "edge-round"), "P06"); err != nil {
		return err
	}
	cables, err := f.splitOff(on["A"], "BENCH-1", "BK-45")
	if err != nil {
		return err
	}
	frames, err := f.frameParts()
	if err != nil {
		return err
	}
	jobs := append(frames,
		&job{pallet: on["A"]},
		&job{pallet: cables, stop: before("hand-round"), to: "HAND-SS"},
		&job{pallet: on["B"], stop: before("final-check"), to: "INSPECT-1"},
		&job{pallet: on["C"], stop: before("final-check"), to: "INSPECT-1", onWay: true})
	if err := f.run(jobs...); err != nil {
		return err
	}
	return f.shipRoofer(on["A"])
}

// shipRoofer loads and sends the finished part of the roofer's order.
func (f *floor) shipRoofer(p core.PalletCode) error {
	if err := f.bring(p, "DOCK-1"); err != nil {
		return err
	}
	f.pass(10, 20)
	e, err := f.do("DOCK-1", core.Load{Site: "Quillhaven Roofing, own yard", Day: f.today(), Pallets: []core.PalletCode{p}})
	if err != nil {
		return err
	}
	f.pass(10, 20)
	_, err = f.do("DOCK-1", core.Ship{Consignment: core.ConsignmentCode(e.Ref), Vehicle: "MH24 BRL", HandedTo: core.SignedOnPaper}, "P25")
	return err
}

// frame: a welder whose qualification ran out may not weld the base frame. It
// is welded by another, refused at inspection, ground out, welded again, and
// waits for the inspector once more.
func (f *floor) frame() error {
	build, err := f.gather("WELD-1", "BF-2400", hospital)
	if err != nil {
		return err
	}
	weld, err := f.welding(build, "")
	if err != nil {
		return err
	}
	if err := f.refused("qualification-lapsed", "WELD-1", weld, "P11"); err != nil {
		return err
	}
	frame, err := f.assemble("WELD-1", build, "")
	if err != nil {
		return err
	}
	sheets, err := f.skins()
	if err != nil {
		return err
	}
	if err := f.run(append(sheets, &job{pallet: frame, stop: before("weld-inspect"), to: "INSPECT-1"})...); err != nil {
		return err
	}
	e, err := f.sign(frame, "weld-inspect", flaw{"BF-2400", 1, "lack of fusion at the second cross member"})
	if err != nil {
		return err
	}
	f.pass(15, 30)
	repair := core.Dispose{Problem: core.ProblemID(e.Ref), Disposition: core.DisposeRework, Reason: "grind out and weld again, WPS 12",
		Route: core.RouteRef{Name: "WELD-REPAIR", Version: 1}, Rejoin: 40}
	if _, err := f.do("INSPECT-1", repair, "P03"); err != nil {
		return err
	}
	return f.run(&job{pallet: frame, stop: before("weld-inspect"), to: "INSPECT-1"})
}

// panels: one wall panel has its first colour; the end wall lacks stiffeners.
func (f *floor) panels() error {
	wall, err := f.make("WELD-2", "WP-2400", hospital, "")
	if err != nil {
		return err
	}
	doors, err := f.doorParts()
	if err != nil {
		return err
	}
	if err := f.run(append(doors, &job{pallet: wall, stop: beforeStep(90), to: "PRETREAT-1"})...); err != nil {
		return err
	}
	_, err = f.gather("WELD-2", "WP-2400", hospital)
	return err
}

// doors: the left leaf of each order is welded; one is through inspection, the
// other waits. The skin that was bent wrong is scrapped and asked for again.
func (f *floor) doors() error {
	if err := f.disposeBent(); err != nil {
		return err
	}
	leaf, err := f.make("WELD-3", "DL-L", hospital, "")
	if err != nil {
		return err
	}
	spare, err := f.make("WELD-3", "DL-L", spareDoor, leaf)
	if err != nil {
		return err
	}
	parts, err := f.bankParts()
	if err != nil {
		return err
	}
	return f.run(append(parts, &job{pallet: spare, stop: before("weld-inspect"), to: "INSPECT-1"})...)
}

// disposeBent scraps what was bent wrong and asks for a remake.
func (f *floor) disposeBent() error {
	for id, p := range f.state.Problems {
		if p.Open() && p.Stage == "fold" {
			f.pass(10, 25)
			_, err := f.do("INSPECT-1", core.Dispose{Problem: id, Disposition: core.DisposeRemake, Reason: "cracked at the hem: not to be bent back"}, "P03")
			return err
		}
	}
	return fmt.Errorf("no skin was bent wrong")
}

// banks: four louvre banks go through to the coat table, where one is refused;
// the other three are packed and loaded for the truck.
func (f *floor) banks() error {
	var pallet core.PalletCode
	for range 4 {
		p, err := f.make("HARDWARE-1", "LB-760", louvres, pallet)
		if err != nil {
			return err
		}
		pallet = p
	}
	if err := f.run(&job{pallet: pallet, stop: before("coat-inspect"), to: "COAT-TABLE-1"}); err != nil {
		return err
	}
	f.pass(5, 10)
	if err := f.report("COAT-TABLE-1", f.lots(pallet)[0], "orange peel over the whole face", "P20"); err != nil {
		return err
	}
	if err := f.run(&job{pallet: pallet, to: "DOCK-1"}); err != nil {
		return err
	}
	f.pass(5, 10)
	_, err := f.do("DOCK-1", core.Load{Site: "SITE-LARKFIELD", Day: f.today(), Pallets: []core.PalletCode{pallet}})
	return err
}

// lastHour is what has just happened.
func (f *floor) lastHour() error {
	if f.clock.Left() < 95*time.Minute {
		return fmt.Errorf("only %v of the history is left for the last hour: the story is too long", f.clock.Left())
	}
	for f.clock.Left() > 105*time.Minute {
		f.pass(4, 7)
	}
	f.clock.Until(95 * time.Minute)
	for _, step := range []func() error{f.kit, f.sheetsAround, f.leafReported, f.holds} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// kit: the bags of the hospital's hardware kit are picked onto one pallet, and
// the kit is gathered and checked at the dock.
func (f *floor) kit() error {
	var tray core.PalletCode
	for _, c := range f.book.Items[f.rev("KIT-2400")].Bill {
		bags := f.find(c.Item.Item, core.Owner{})
		if len(bags) == 0 || bags[0].Qty < c.Qty {
			return fmt.Errorf("the shop has too few of %s for a kit", c.Item)
		}
		from := core.PalletCode(bags[0].Place.Ref)
		f.pass(1, 2)
		e, err := f.do(f.state.Pallets[from].Station, core.Divide{From: from, To: tray, Picks: []core.Pick{{Lot: bags[0].ID, Qty: c.Qty}}})
		if err != nil {
			return err
		}
		tray = e.Pallets[0]
	}
	if err := f.bring(tray, "DOCK-1"); err != nil {
		return err
	}
	_, err := f.make("DOCK-1", "KIT-2400", hospital, "")
	return err
}

// sheetsAround: one sheet lies cut at the bench, one under the laser.
func (f *floor) sheetsAround() error {
	if _, err := f.cut("N-7004", "LASER-2", "BENCH-1"); err != nil {
		return err
	}
	_, err := f.lay("N-7005", "LASER-1")
	return err
}

// leafReported: the hospital's door leaf is scratched, and waits for somebody
// to say what is to become of it.
func (f *floor) leafReported() error {
	leaf := f.find("DL-L", hospital)
	if len(leaf) == 0 {
		return fmt.Errorf("the hospital's door leaf is on no pallet")
	}
	f.pass(3, 6)
	return f.report("INSPECT-1", leaf[0], "deep scratch across the outside, 400 mm", "P18")
}

// holds: the hospital's lifting eye plates are held. The paint shop asks for the
// base frame too early and is told who has to release it first.
func (f *floor) holds() error {
	f.pass(3, 6)
	plates, err := f.palletOf("LE-16", hospital)
	if err != nil {
		return err
	}
	worn := core.PlaceHold{Scope: core.HoldPallet, Ref: string(plates), Reason: "thread gauge found worn: check the plates before they are tapped"}
	if _, err := f.do("INSPECT-1", worn, "P03"); err != nil {
		return err
	}
	frame, err := f.palletOf("BF-2400", hospital)
	if err != nil {
		return err
	}
	return f.refused("hold-not-released", "PRETREAT-1", core.TakeIn{Pallet: frame, PrintSeen: lastPrint(f.state.Pallets[frame])})
}
