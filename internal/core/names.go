package core

// What each command is called, and the rows it must see.

func (c ReceiveGoods) Kind() string   { return "receive-goods" }
func (c Separate) Kind() string       { return "separate" }
func (c TakeIn) Kind() string         { return "take-in" }
func (c HandOver) Kind() string       { return "hand-over" }
func (c Begin) Kind() string          { return "begin" }
func (c SignOff) Kind() string        { return "sign-off" }
func (c Divide) Kind() string         { return "divide" }
func (c Fuse) Kind() string           { return "fuse" }
func (c Gather) Kind() string         { return "gather" }
func (c PutBack) Kind() string        { return "put-back" }
func (c Assemble) Kind() string       { return "assemble" }
func (c ReportProblem) Kind() string  { return "report-problem" }
func (c Dispose) Kind() string        { return "dispose" }
func (c PlaceHold) Kind() string      { return "place-hold" }
func (c LiftHold) Kind() string       { return "lift-hold" }
func (c Settle) Kind() string         { return "settle" }
func (c Recount) Kind() string        { return "recount" }
func (c ChangeOwner) Kind() string    { return "change-owner" }
func (c PrintTraveller) Kind() string { return "print-traveller" }
func (c Load) Kind() string           { return "load" }
func (c Ship) Kind() string           { return "ship" }
func (c Weigh) Kind() string          { return "weigh" }
func (c TakeBack) Kind() string       { return "take-back" }
func (c ReceiveAtSite) Kind() string  { return "receive-at-site" }
func (c WorkAtSite) Kind() string     { return "work-at-site" }
func (c JoinLate) Kind() string       { return "join-late" }
func (c BeginUnit) Kind() string      { return "begin-unit" }
func (c TakeApart) Kind() string      { return "take-apart" }
func (c TurnUp) Kind() string         { return "turn-up" }
func (c ReportSnag) Kind() string     { return "report-snag" }
func (c PutRightSnag) Kind() string   { return "put-right-snag" }
func (c CloseSnag) Kind() string      { return "close-snag" }
func (c Correct) Kind() string        { return "correct" }
func (c Enlist) Kind() string         { return "enlist" }

func (c ReceiveGoods) Names() Names { return Names{Orders: orderOf(c.Owner), Whole: true} }

func (c Separate) Names() Names {
	n := Names{Pallets: []PalletCode{c.Sheet}, Nests: []string{c.Nest}, Whole: true}
	for _, t := range c.Ticks {
		if t.To != "" && !isNewPallet(t.To) {
			n.Pallets = append(n.Pallets, t.To)
		}
	}
	return n
}

func (c HandOver) Names() Names       { return pallets(c.Pallet) }
func (c Begin) Names() Names          { return pallets(c.Pallet) }
func (c PrintTraveller) Names() Names { return pallets(c.Pallet) }
func (c Fuse) Names() Names           { return pallets(c.Pallet) }
func (c Divide) Names() Names         { return pallets(c.From, c.To) }

func (c Recount) Names() Names {
	n := pallets(c.Pallet)
	n.Whole = true
	return n
}

func (c TakeIn) Names() Names {
	n := pallets(c.Pallet)
	n.Slot = SlotName(c.Slot)
	return n
}

func (c ReportProblem) Names() Names {
	n := pallets(c.Pallet, c.To)
	n.Lots = []LotID{c.Lot}
	return n
}

func (c SignOff) Names() Names {
	n := pallets(c.Pallet)
	if c.Abrasive != "" {
		n.Abrasives = []string{c.Abrasive}
	}
	for _, w := range c.Lots {
		for _, o := range w.Onto {
			if !isNewPallet(o.Pallet) {
				n.Pallets = union(n.Pallets, pallets(o.Pallet).Pallets...)
			}
		}
	}
	return n
}

func (c Gather) Names() Names {
	n := Names{Orders: orderOf(c.Owner), Near: len(c.Picks) == 0, Whole: true}
	if c.Build != "" {
		n.Builds = []BuildCode{c.Build}
	}
	for _, p := range c.Picks {
		n.Lots = append(n.Lots, p.Lot)
	}
	return n
}

func (c PutBack) Names() Names {
	n := pallets(c.To)
	n.Builds = []BuildCode{c.Build}
	return n
}

func (c Assemble) Names() Names {
	n := pallets(c.To)
	n.Builds = []BuildCode{c.Build}
	return n
}

func (c BeginUnit) Names() Names { return Names{Builds: []BuildCode{c.Build}} }

func (c TakeApart) Names() Names {
	n := pallets(c.Pallet, c.To)
	n.Lots, n.Inside, n.Whole = []LotID{c.Unit}, []LotID{c.Unit}, true
	return n
}

func (c JoinLate) Names() Names {
	n := pallets(c.Pallet)
	n.Lots, n.Inside, n.Whole = []LotID{c.Unit}, []LotID{c.Unit}, true
	for _, p := range c.In {
		n.Lots = append(n.Lots, p.Lot)
	}
	return n
}

func (c WorkAtSite) Names() Names {
	n := pallets(c.To)
	for _, p := range c.Picks {
		n.Lots = append(n.Lots, p.Lot)
	}
	return n
}

func (c Dispose) Names() Names {
	n := Names{Problems: []ProblemID{c.Problem}, Whole: true}
	if c.Unit != "" {
		n.Lots, n.Inside = []LotID{c.Unit}, []LotID{c.Unit}
	}
	return n
}

func (c LiftHold) Names() Names { return Names{Holds: []HoldID{c.Hold}} }

func (c PlaceHold) Names() Names {
	switch c.Scope {
	case HoldLot:
		return Names{Lots: []LotID{LotID(c.Ref)}}
	case HoldPallet:
		return pallets(PalletCode(c.Ref))
	case HoldOrder:
		return Names{Orders: []string{c.Ref}, Alone: true}
	}
	return Names{Alone: true}
}

func (c Settle) Names() Names { return Names{Lots: []LotID{c.Lot}} }

func (c ChangeOwner) Names() Names {
	n := pallets(c.Pallet)
	n.Orders, n.Whole = orderOf(c.To), !c.To.Stock()
	return n
}

func (c Load) Names() Names {
	n := pallets(c.Pallets...)
	if c.Consignment != "" {
		n.Consignments = []ConsignmentCode{c.Consignment}
	}
	return n
}

func (c Ship) Names() Names {
	return Names{Consignments: []ConsignmentCode{c.Consignment}}
}

func (c Weigh) Names() Names        { return Names{Consignments: []ConsignmentCode{c.Consignment}} }
func (c TakeBack) Names() Names     { return Names{Consignments: []ConsignmentCode{c.Consignment}} }
func (c PutRightSnag) Names() Names { return Names{Snags: []SnagID{c.Snag}} }
func (c CloseSnag) Names() Names    { return Names{Snags: []SnagID{c.Snag}} }
func (c Correct) Names() Names      { return Names{Events: []EventID{c.Event}, Whole: true} }

// What turns up may have been made again meanwhile, so all its orders have is
// counted.
func (c ReceiveAtSite) Names() Names {
	return Names{Consignments: []ConsignmentCode{c.Consignment}, Whole: len(c.Boxes) > 0}
}

func (c TurnUp) Names() Names {
	n := Names{Consignments: []ConsignmentCode{c.Consignment}, Whole: true}
	for _, f := range c.Finds {
		n.Lots = append(n.Lots, f.Lot)
	}
	return n
}

func (c ReportSnag) Names() Names {
	n := Names{Orders: orderOf(Owner{Order: c.Order})}
	if c.Consignment != "" {
		n.Consignments = []ConsignmentCode{c.Consignment}
	}
	if c.Unit != "" {
		n.Lots = []LotID{c.Unit}
	}
	return n
}

func (c Enlist) Names() Names {
	n := Names{Whole: true}
	for _, o := range c.Orders {
		n.Orders = append(n.Orders, o.No)
	}
	for _, x := range c.Nests {
		n.Nests = append(n.Nests, x.ID)
	}
	return n
}

func pallets(codes ...PalletCode) Names {
	var n Names
	for _, c := range codes {
		if c != "" {
			n.Pallets = append(n.Pallets, c)
		}
	}
	return n
}

func orderOf(o Owner) []string {
	if o.Stock() {
		return nil
	}
	return []string{o.Order}
}

// isNewPallet reports whether a pallet named is yet to be made: "new:A", where
// all parts of one letter share the pallet.
func isNewPallet(c PalletCode) bool { return len(c) > 4 && c[:4] == "new:" }
