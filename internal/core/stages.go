package core

// DefaultStages is the stage table a shop starts with: what each kind of work
// needs, forbids, gives and clears. Common practice of sheet-metal shops that
// powder-coat, no single source; a shop adds rows, it does not edit these.
func DefaultStages() StageTable {
	t := StageTable{Version: 1, Stages: map[StageName]Stage{}}
	for _, s := range defaultStages {
		t.Stages[s.Name] = s
		t.Order = append(t.Order, s.Name)
	}
	return t
}

// Short forms, so that the table below reads as a table.
func rows(names ...string) []Condition {
	var out []Condition
	for _, n := range names {
		out = append(out, Condition{Fact: n})
	}
	return out
}

func clears(names ...string) []Clearing {
	var out []Clearing
	for _, n := range names {
		out = append(out, Clearing{Condition: Condition{Fact: n}})
	}
	return out
}

func join[T any](parts ...[]T) []T {
	var out []T
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
}

var (
	uncoated    = []Condition{{Fact: Coated, Scope: AnyFace}}
	neverCoated = []Condition{{Fact: Coated, Scope: AnyFace, Absolute: true}}
	makers      = []Role{Operator, Separator}
	inspectors  = []Role{Inspector}

	// roundedForFinish: edges are rounded before any coat, always; only a part
	// that stays bare may keep its edges as cut.
	roundedForFinish = []Condition{{Fact: EdgesRounded, Unless: []Trait{BareAsCut}}}
)

// hardware is a stage that drills or taps the metal or fits something into it.
func hardware(name StageName, title string, gives []Condition, more ...Clearing) Stage {
	return Stage{
		Name: name, Title: title, Group: "hardware", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs: []Condition{
			{Fact: Separated, Unless: []Trait{RouteWelds}},
			{Fact: WeldAccepted, If: []Trait{RouteWelds}},
			{Fact: CoatAccepted, Scope: AskedFace, If: []Trait{PlacedAfterCoat}},
		},
		Forbids: []Condition{{Fact: Coated, Scope: AnyFace, Unless: []Trait{PlacedAfterCoat}}},
		Gives:   gives,
		Clears: append([]Clearing{
			{Condition: Condition{Fact: Pretreated}},
			{Condition: Condition{Fact: CoatAccepted, Scope: AskedFace, If: []Trait{PlacedAfterCoat}}},
		}, more...),
		Asks:    []StageCheck{{"bare-edges-touched-up", []Trait{PlacedAfterCoat}}},
		Caution: "machine-tools",
	}
}

var defaultStages = []Stage{
	{Name: "goods-in", Title: "Identify the goods", Group: "cut", Mark: Inspection, Meaning: MeantInspected,
		Roles: []Role{Operator, Separator, Inspector}, Gives: []Condition{
			{Fact: MaterialIdentified, Unless: []Trait{IsBought}}, {Fact: GoodsAccepted, If: []Trait{IsBought}}},
		Caution: "lifting"},
	{Name: "cut", Title: "Cut the sheet", Group: "cut", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs: rows(MaterialIdentified), Gives: rows(IsCut), Caution: "laser"},
	{Name: "separate", Title: "Break out and count", Group: "cut", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs: rows(IsCut), Gives: rows(Separated, Counted), Caution: "sharp-edges"},
	{Name: "edge-round", Title: "Round the edges", Group: "round", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs: rows(Separated), Forbids: join(rows(Folded, Welded, HardwareFitted), uncoated),
		Gives: rows(EdgesRounded), Clears: clears(Pretreated),
		Predicates: []Predicate{AbrasiveSuits}, Abrades: true, Caution: "sharp-edges"},
	{Name: "hand-round", Title: "Round the edges by hand", Group: "round", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs: rows(Separated), Forbids: uncoated, Gives: rows(EdgesRounded), Clears: clears(Pretreated),
		Predicates: []Predicate{AbrasiveSuits}, Abrades: true, Caution: "sharp-edges"},
	{Name: "fold", Title: "Fold", Group: "fold", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs:   []Condition{{Fact: Separated}, {Fact: EdgesRounded, Unless: []Trait{FoldsFirst, EdgesAsCut}}},
		Forbids: uncoated, Gives: rows(Folded), Clears: clears(Pretreated), Caution: "press-brake"},

	{Name: "assemble", Title: "Assemble", Group: "weld", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Forbids: uncoated, Gives: rows(Assembled), Clears: clears(WeldDressed, WeldAccepted, Pretreated),
		Predicates: []Predicate{BuildComplete}, Work: "assembly", Caution: "machine-tools"},
	{Name: "weld", Title: "Weld", Group: "weld", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs:   []Condition{{Fact: EdgesRounded, Unless: []Trait{EdgesAsCut, OnRework, IsAssembled}}},
		Forbids: neverCoated, Gives: rows(Welded), Clears: clears(WeldDressed, WeldAccepted, Pretreated),
		Predicates: []Predicate{BuildComplete}, Work: "weld", Qualification: "weld", Inputs: []string{"filler"}, Caution: "welding"},
	{Name: "grind-out", Title: "Grind the weld out", Group: "weld", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs: rows(Welded), Forbids: uncoated,
		Clears:     clears(Welded, WeldDressed, WeldAccepted, EdgesRounded, Pretreated),
		Predicates: []Predicate{AbrasiveSuits}, Work: "weld", Abrades: true, Caution: "grinding"},
	{Name: "join-late", Title: "Join the late component", Group: "weld", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Forbids: uncoated, Clears: clears(Welded, WeldDressed, WeldAccepted, Pretreated),
		Predicates: []Predicate{BuildComplete}, Work: "weld", Caution: "welding"},
	{Name: "weld-dress", Title: "Dress the welds", Group: "weld", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs: rows(Welded), Forbids: neverCoated, Gives: rows(WeldDressed),
		Clears: append(clears(WeldAccepted, Pretreated),
			Clearing{Condition: Condition{Fact: EdgesRounded}, UnlessCheck: "edges-broken-again"}),
		Predicates: []Predicate{AbrasiveSuits}, Work: "weld", Abrades: true, Caution: "grinding"},
	{Name: "weld-inspect", Title: "Inspect the welds", Group: "inspect", Mark: Inspection, Meaning: MeantReleased, Roles: inspectors,
		Needs:   []Condition{{Fact: Welded}, {Fact: WeldDressed, If: []Trait{AsksDressing}}},
		Forbids: uncoated, Gives: rows(WeldAccepted), Clears: clears(SampleRefused),
		Hold: true, NotMakerOf: "weld", Qualification: "weld-inspection", ServerOnly: true},

	hardware("drill", "Drill", rows("drilled"), Clearing{Condition: Condition{Fact: EdgesRounded}, UnlessCheck: "holes-deburred"}),
	hardware("tap", "Tap the threads", rows("tapped")),
	hardware("rivet-nut", "Set the rivet nuts", rows("rivet-nuts-set", HardwareFitted)),
	hardware("rivet", "Rivet", rows("riveted", HardwareFitted)),

	{Name: "mask", Title: "Mask", Group: "coat", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Gives: []Condition{{Fact: Masked, Scope: ThisPlace}}},
	{Name: "unmask", Title: "Take the masking off", Group: "coat", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Clears: []Clearing{{Condition: Condition{Fact: Masked, Scope: ThisPlace}}}},
	{Name: "pretreat", Title: "Pretreat", Group: "coat", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs:   join(roundedForFinish, []Condition{{Fact: WeldAccepted, If: []Trait{RouteWelds}, Absolute: true}}),
		Forbids: uncoated, Gives: rows(Pretreated), Inputs: []string{"bath"}, Caution: "chemicals"},
	{Name: "key-and-clean", Title: "Key and clean", Group: "coat", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs: join(roundedForFinish, []Condition{
			{Fact: WeldAccepted, If: []Trait{RouteWelds}}, {Fact: Cured, Scope: CoatFaces}}),
		Gives: rows(Pretreated), Predicates: []Predicate{SomeFaceCoated}, Caution: "dust"},
	{Name: "coat", Title: "Coat", Group: "coat", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Needs: []Condition{{Fact: EdgesRounded, Absolute: true}, {Fact: WeldAccepted, If: []Trait{RouteWelds}, Absolute: true},
			{Fact: Pretreated}},
		Forbids: []Condition{{Fact: Masked, Scope: ThisFace}},
		Gives:   []Condition{{Fact: Coated, Scope: ThisFace}},
		Clears: []Clearing{{Condition: Condition{Fact: Cured, Scope: ThisFace}},
			{Condition: Condition{Fact: CoatAccepted, Scope: ThisFace}}},
		Predicates: []Predicate{FaceTakesCoat, OtherFacesSafe},
		Inputs:     []string{"powder"}, ServerOnly: true, Caution: "powder"},
	{Name: "cure", Title: "Cure", Group: "coat", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Gives: []Condition{{Fact: Cured, Scope: CoatFaces}},
		Clears: []Clearing{{Condition: Condition{Fact: Pretreated}},
			{Condition: Condition{Fact: CoatAccepted, Scope: CoatFaces}}},
		Predicates: []Predicate{SomeFaceCoated, BakesLeft}, Caution: "hot"},
	{Name: "coat-inspect", Title: "Inspect the coat", Group: "coat", Mark: Inspection, Meaning: MeantInspected, Roles: inspectors,
		Needs: []Condition{{Fact: Cured, Scope: ThisFace}}, Gives: []Condition{{Fact: CoatAccepted, Scope: ThisFace}}, Clears: clears(SampleRefused)},
	{Name: "sort", Title: "Sort the good from the bad", Group: "inspect", Mark: Inspection, Meaning: MeantInspected,
		Roles: []Role{Inspector, Operator}, Needs: rows(SampleRefused), Clears: clears(SampleRefused),
		Predicates: []Predicate{EveryPartJudged}},
	{Name: "strip", Title: "Strip the coat", Group: "coat", Mark: Operation, Meaning: MeantMade, Roles: makers,
		Forbids: []Condition{{Fact: HardwareFitted}},
		Clears: []Clearing{{Condition: Condition{Fact: Coated, Scope: AnyFace}}, {Condition: Condition{Fact: Cured, Scope: AnyFace}},
			{Condition: Condition{Fact: CoatAccepted, Scope: AnyFace}}, {Condition: Condition{Fact: Masked, Scope: AnyFace}},
			{Condition: Condition{Fact: Pretreated}}},
		Predicates: []Predicate{CoatToStrip}, Caution: "chemicals"},

	{Name: "final-check", Title: "Check the finished parts", Group: "dock", Mark: Inspection, Meaning: MeantInspected, Roles: inspectors,
		Needs: []Condition{{Fact: EdgesRounded, Unless: []Trait{EdgesAsCut}}, {Fact: WeldAccepted, If: []Trait{RouteWelds}}},
		Gives: rows(FinalAccepted), Clears: clears(SampleRefused), Asks: []StageCheck{{"cut-hazard-label", []Trait{EdgesAsCut}}}},
	{Name: "kit-check", Title: "Check the kit", Group: "dock", Mark: Inspection, Meaning: MeantInspected,
		Roles: []Role{Operator, Inspector, Dispatcher}, Gives: rows(KitComplete),
		Predicates: []Predicate{BuildComplete, InDate}},
	{Name: "pack", Title: "Pack", Group: "dock", Mark: Operation, Meaning: MeantMade, Roles: []Role{Operator, Dispatcher},
		Needs: []Condition{
			{Fact: CoatAccepted, Scope: AskedFace, If: []Trait{AsksCoat}},
			{Fact: FinalAccepted, Unless: []Trait{AsksCoat, IsKit, IsBought}},
			{Fact: KitComplete, If: []Trait{IsKit}},
			{Fact: GoodsAccepted, If: []Trait{IsBought}},
			{Fact: WeldAccepted, If: []Trait{RouteWelds}},
		},
		Forbids: []Condition{{Fact: Masked, Scope: AnyFace}}, Gives: rows(IsPacked),
		Predicates: []Predicate{NoOpenStop, InDate}, Caution: "lifting"},
	{Name: "ship", Title: "Ship", Group: "dock", Mark: Transport, Meaning: MeantReleased, Roles: []Role{Dispatcher},
		Needs: rows(IsPacked), Gives: rows(IsShipped), Predicates: []Predicate{NoOpenStop, InDate}, ServerOnly: true},
	{Name: "receive", Title: "Receive at the site", Mark: Inspection, Meaning: MeantReceived, Roles: []Role{Fitter}, Site: true,
		Needs: rows(IsShipped), Gives: rows(IsReceived), Clears: clears(IsReturned)},
	{Name: "unpack", Title: "Unpack", Mark: Operation, Meaning: MeantMade, Roles: []Role{Fitter}, Site: true,
		Needs: rows(IsReceived), Gives: rows(IsUnpacked), Caution: "lifting"},
	{Name: "fit-out", Title: "Fit out", Mark: Operation, Meaning: MeantMade, Roles: []Role{Fitter}, Site: true,
		Needs: rows(IsUnpacked), Gives: rows(IsFitted), Caution: "lifting"},
	{Name: "accept", Title: "Accept", Mark: Inspection, Meaning: MeantReceived, Roles: []Role{Fitter}, Site: true,
		Needs: rows(IsFitted), Gives: rows(IsAtClient)},
	{Name: "return", Title: "Return", Mark: Transport, Meaning: MeantReceived, Roles: []Role{Fitter, Dispatcher}, Site: true,
		Needs: rows(IsReceived), Gives: rows(IsReturned), Caution: "lifting",
		Clears: clears(IsPacked, IsShipped, IsReceived, IsUnpacked, IsFitted, IsAtClient)},
}
