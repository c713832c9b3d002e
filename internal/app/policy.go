package app

import (
	"slices"

	"tagalong/internal/core"
)

// From says where a command may come from.
type From string

// Where commands come from.
const (
	FromTablet From = "an enrolled tablet" // its station says where the work was done
	FromEither From = "an enrolled tablet or the office"
	FromOffice From = "the office"
)

// Policy says who may ask for one kind of command. What the shop's rules make
// of it is for the core to say: that a release wants an inspector who isn't the
// maker, or a concession a second signer, stands there and not here.
type Policy struct {
	From    From
	Signers int          // fewest signatures; 0: the tablet, or being signed in, is enough
	Meaning core.Meaning // of a signature that names none; empty: the stage's own
	// Roles: the first signer has one of these or, where nobody signs, the
	// person signed in. Empty: anybody.
	Roles   []core.Role
	Dock    bool      // only from a tablet at a dock
	Bearer  bool      // also from the bearer of a consignment's link, who signs by bearing it
	Doc     string    // one sentence for the list of commands
	Example core.Body // made up, to show the shape

	decode func(raw []byte) (core.Body, error)
}

// Kind is the command's name, the last word of its endpoint.
func (p Policy) Kind() string { return p.Example.Kind() }

// Commands is every kind of command with its policy, in the order of work.
var Commands = []Policy{
	of(core.Enlist{Source: "orders.csv", Orders: []core.Order{exampleOrder}}).
		office(core.Admin, core.Manager).doc("Bring orders and nests from an import into the shop."),
	of(core.ReceiveGoods{Item: core.ItemRev{Item: "AL5005-3", Rev: "A"}, Qty: 1, Heat: "H-1047", Label: "S-311", Identified: true}).
		either().signed(core.MeantReceived).doc("Take in a sheet, a bar or a bought item."),
	of(core.Separate{Sheet: "S4K7M2QX", Nest: "N-204", Ticks: []core.PartTick{{Line: 1, Good: 12, To: "new:A"}}}).
		tablet().signed(core.MeantMade).doc("Break the parts out of a cut sheet and put them on pallets."),
	of(core.TakeIn{Pallet: "P4K7M2QX", PrintSeen: 2}).
		tablet().doc("A pallet has come to the tablet's station; in a pallet store, slot is where it is put, and moves one that is there already."),
	of(core.HandOver{Pallet: "P4K7M2QX", To: "brake-1"}).
		tablet().doc("Send a pallet on to another station."),
	of(core.Begin{Pallet: "P4K7M2QX", Stage: "fold"}).
		tablet().doc("Work on a stage has started."),
	of(core.SignOff{Pallet: "P4K7M2QX", PrintSeen: 2, Stage: "fold",
		Lots: []core.LotWork{{Lot: "L1", Good: 12, Checks: []core.CheckReading{{Characteristic: "flange-angle", Met: true}}}}}).
		tablet().signed("").doc("A stage is done on lots of one pallet."),
	of(core.Divide{From: "P4K7M2QX", Picks: []core.Pick{{Lot: "L1", Qty: 4}}}).
		tablet().doc("Move parts of lots from one pallet to another."),
	of(core.Fuse{Pallet: "P4K7M2QX", Lots: []core.LotID{"L1", "L2"}}).
		tablet().signed(core.MeantMade).doc("Make one lot of several on a pallet."),
	of(core.Gather{Item: core.ItemRev{Item: "ENC-2400", Rev: "C"}, Owner: core.Owner{Order: "A-1041", Line: 1}}).
		tablet().doc("Take the components of one unit off pallets into its build."),
	of(core.PutBack{Build: "U4K7M2QX", Picks: []core.Pick{{Lot: "L1", Qty: 4}}}).
		tablet().doc("Return gathered parts from a build to a pallet."),
	of(core.Assemble{Build: "U4K7M2QX"}).
		tablet().signed(core.MeantMade).doc("Sign a made assembly: its components leave the build, the unit is on a pallet."),
	of(core.BeginUnit{Build: "U4K7M2QX"}).
		tablet().doc("The bench starts on a unit, its whole set before it."),
	of(core.TakeApart{Pallet: "P4K7M2QX", Unit: "L9", Why: "a component of the wrong alloy"}).
		tablet().signed(core.MeantMade).doc("Take a made unit apart: its components lie on a pallet again, and its build is open."),
	of(core.JoinLate{Pallet: "P4K7M2QX", Unit: "L9", In: []core.Pick{{Lot: "L1", Qty: 1}}, Out: []core.Pick{{Lot: "L4", Qty: 1}}, Why: "wrong gauge"}).
		tablet().signed(core.MeantMade).doc("Put late components into a made unit, in the place of others."),
	of(core.ReportProblem{Pallet: "P4K7M2QX", Lot: "L1", Qty: 2, What: "scratched across the face"}).
		either().orBearer().signed(core.MeantInspected).doc("Record a nonconformity; the bad parts go to quarantine."),
	of(core.Dispose{Problem: "Q1", Disposition: core.DisposeRemake, Reason: "too deep to dress out"}).
		either().signed(core.MeantReleased).by(core.Quality, core.Inspector).doc("Say what becomes of the parts of a problem."),
	of(core.PlaceHold{Scope: core.HoldHeat, Ref: "H-1047", Reason: "certificate in doubt"}).
		either().signed(core.MeantInspected).by(core.Inspector, core.Quality, core.Manager).doc("Stop a lot, pallet, item, heat, batch, order or everything a gauge measured."),
	of(core.LiftHold{Hold: "H1", Reason: "certificate found"}).
		either().signed(core.MeantReleased).by(core.Inspector, core.Quality).doc("Let what a hold stopped go on."),
	of(core.Settle{Lot: "L1", Fact: core.Fact{Name: core.EdgesRounded}, Value: core.Yes, Reason: "felt every edge"}).
		either().signed(core.MeantInspected).by(core.Inspector, core.Quality).doc("Make an unsure fact yes or no, by looking."),
	of(core.Recount{Pallet: "P4K7M2QX", Lot: "L1", Found: 11, Recorded: 12, Reason: "counted twice"}).
		either().signed(core.MeantInspected).doc("Say how many parts of a lot are really there."),
	of(core.ChangeOwner{Pallet: "P4K7M2QX", Lot: "L1", Qty: 4, To: core.Owner{Order: "A-1044", Line: 2}, Reason: "goes first"}).
		either().signed(core.MeantReleased).by(core.Manager, core.Dispatcher).doc("Lend parts to another order line, or take them to stock."),
	of(core.PrintTraveller{Pallet: "P4K7M2QX"}).
		either().doc("Number a print of a pallet's traveller."),
	of(core.Load{Site: "Larkfield depot", Day: "2026-12-03", Pallets: []core.PalletCode{"P4K7M2QX"}}).
		tablet().atDock().doc("Put packed pallets on a consignment, at the dock."),
	of(core.Ship{Consignment: "C4K7M2QX", Vehicle: "registration, as on the plate", HandedTo: core.SignedOnPaper,
		Carriers: []core.CarrierCount{{Kind: core.ReturnStillage, Count: 2}},
		Consents: []core.Consent{{Order: "A-1041", Who: "site management", Means: "e-mail of 24 November", Reason: "the panels are fitted first"}}}).
		either().signed(core.MeantReleased).by(core.Dispatcher).doc("Send a consignment off, once its driver has signed for it."),
	of(core.Weigh{Consignment: "C4K7M2QX", Gross: []core.GrossMass{{Pallet: "P4K7M2QX", Kg: 68.5}}}).
		tablet().atDock().doc("Say what carriers of a consignment weigh, parts, carrier and packaging together."),
	of(core.TakeBack{Consignment: "C4K7M2QX", Carriers: []core.CarrierCount{{Kind: core.ReturnStillage, Count: 2}}}).
		tablet().atDock().doc("Carriers of the shop's own came back from where a consignment took them, or never will."),
	of(core.ReceiveAtSite{Consignment: "C4K7M2QX"}).
		either().orBearer().signed(core.MeantReceived).by(core.Fitter).doc("A consignment arrived whole at its site."),
	of(core.WorkAtSite{Stage: "unpack", Picks: []core.Pick{{Lot: "L1", Qty: 4}}}).
		either().orBearer().signed("").by(core.Fitter, core.Dispatcher).doc("Work at the fitting site: unpack, fit out, accept, or send back to the shop."),
	of(core.TurnUp{Consignment: "C4K7M2QX", Finds: []core.Pick{{Lot: "L1", Qty: 1}}, Note: "in another box"}).
		either().orBearer().signed(core.MeantReceived).by(core.Fitter).doc("Parts that were missing from a consignment are at its site after all."),
	of(core.ReportSnag{Order: "A-1041", What: "wall scratched beside the door", Wanted: "2026-12-03"}).
		either().orBearer().signed(core.MeantInspected).by(SnagReporters...).doc("Record what is wrong at a site and is no nonconformity of parts."),
	of(core.PutRightSnag{Snag: "G1", Done: "filled and painted"}).
		either().orBearer().signed(core.MeantMade).by(core.Fitter).doc("Say at a site that a snag is put right; somebody of the shop closes it."),
	of(core.CloseSnag{Snag: "G1", Done: "filled and painted"}).
		either().signed(core.MeantMade).by(SnagClosers...).doc("Say what was done about a snag."),
	of(core.Correct{Event: "E1", Reason: "signed the wrong pallet"}).
		either().signed(core.MeantMade).doc("Take back what an earlier event did, where that is still possible."),
}

// SnagReporters and SnagClosers may say that something is wrong at a site, and
// that it is put right.
var (
	SnagReporters = []core.Role{core.Fitter, core.Dispatcher, core.Inspector, core.Quality, core.Manager}
	SnagClosers   = []core.Role{core.Fitter, core.Dispatcher, core.Quality, core.Manager}
)

// PolicyOf finds the policy of a kind of command.
func PolicyOf(kind string) (Policy, bool) {
	i := slices.IndexFunc(Commands, func(p Policy) bool { return p.Kind() == kind })
	if i < 0 {
		return Policy{}, false
	}
	return Commands[i], true
}

// of starts the policy of the command with a body of type B.
func of[B core.Body](example B) Policy {
	return Policy{Example: example, decode: func(raw []byte) (core.Body, error) {
		var body B
		if err := decodeStrictly(raw, &body); err != nil {
			return body, err
		}
		return body, checkDates(body)
	}}
}

func (p Policy) tablet() Policy                   { p.From = FromTablet; return p }
func (p Policy) atDock() Policy                   { p.Dock = true; return p }
func (p Policy) either() Policy                   { p.From = FromEither; return p }
func (p Policy) office(roles ...core.Role) Policy { p.From = FromOffice; return p.by(roles...) }
func (p Policy) by(roles ...core.Role) Policy     { p.Roles = roles; return p }
func (p Policy) orBearer() Policy                 { p.Bearer = true; return p }
func (p Policy) doc(sentence string) Policy       { p.Doc = sentence; return p }

// signed asks for one signature; a signer who names no meaning means m.
func (p Policy) signed(m core.Meaning) Policy { p.Signers, p.Meaning = 1, m; return p }

var exampleOrder = core.Order{
	No: "A-1041", Customer: "an invented customer", Promised: "2026-12-03",
	Lines: []core.OrderLine{{Owner: core.Owner{Order: "A-1041", Line: 1}, Item: core.ItemRev{Item: "ENC-2400", Rev: "C"}, Qty: 2}},
}
