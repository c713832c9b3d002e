package app

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"tagalong/internal/core"
	"tagalong/internal/intake"
	"tagalong/internal/sign"
)

// StationKind is a kind of place that sheet-metal shops have, as one chooses
// from a short list. Common practice, no source.
type StationKind struct {
	Key    string // in addresses
	Name   string // of one such station: "flat-bed laser"
	ID     string // what the numbers of its stations begin with
	Stages []core.StageName
	Usual  int // how many are proposed to a new shop
	Bench  bool
	Dock   bool
	Site   bool
	Belt   string // what its abrasives' numbers begin with; empty: nothing abrades there
}

// StationKinds is the short list, in the order parts pass them.
var StationKinds = []StationKind{
	{Key: "goods", Name: "goods in", ID: "GOODS", Stages: []core.StageName{"goods-in"}, Usual: 1},
	{Key: "laser", Name: "laser", ID: "LASER", Stages: []core.StageName{"cut"}, Usual: 1},
	{Key: "tube", Name: "tube laser", ID: "TUBE", Stages: []core.StageName{"cut"}},
	{Key: "bench", Name: "separation bench", ID: "BENCH", Stages: []core.StageName{"separate"}, Usual: 1, Bench: true},
	{Key: "round", Name: "edge rounding line", ID: "ROUND", Stages: []core.StageName{"edge-round"}, Usual: 1, Belt: "BELT"},
	{Key: "hand", Name: "hand rounding bench", ID: "HAND", Stages: []core.StageName{"hand-round"}, Belt: "DISC"},
	{Key: "brake", Name: "press brake", ID: "BRAKE", Stages: []core.StageName{"fold"}, Usual: 1},
	{Key: "weld", Name: "weld bench", ID: "WELD",
		Stages: []core.StageName{"weld", "assemble", "join-late", "grind-out", "weld-dress", "hand-round"}, Usual: 1, Belt: "DISC-W"},
	{Key: "inspect", Name: "weld inspection bay", ID: "INSPECT", Stages: []core.StageName{"weld-inspect", "final-check", "sort"}, Usual: 1},
	{Key: "hardware", Name: "hardware bench", ID: "HARDWARE",
		Stages: []core.StageName{"drill", "tap", "rivet-nut", "rivet", "assemble"}, Usual: 1},
	{Key: "pretreat", Name: "pretreat line", ID: "PRETREAT",
		Stages: []core.StageName{"pretreat", "key-and-clean", "mask", "unmask", "strip"}, Usual: 1},
	{Key: "booth", Name: "spray booth", ID: "BOOTH", Stages: []core.StageName{"mask", "unmask", "coat"}, Usual: 1},
	{Key: "oven", Name: "curing oven", ID: "OVEN", Stages: []core.StageName{"cure", "unmask"}, Usual: 1},
	{Key: "coat", Name: "coat inspection table", ID: "COAT-TABLE", Stages: []core.StageName{"coat-inspect", "sort"}, Usual: 1},
	{Key: "dock", Name: "packing and dock", ID: "DOCK", Stages: []core.StageName{"kit-check", "pack", "ship", "return"}, Usual: 1, Dock: true},
	{Key: "site", Name: "fitting site", ID: "SITE",
		Stages: []core.StageName{"receive", "unpack", "fit-out", "accept", "return"}, Site: true},
}

// MostStations is how many of one kind are made at once.
const MostStations = 40

// KindOf is the kind a station looks like, by the number it begins with.
func KindOf(id core.StationID) (StationKind, bool) {
	for _, k := range StationKinds {
		rest, ok := strings.CutPrefix(string(id), k.ID+"-")
		if _, err := strconv.Atoi(rest); ok && err == nil {
			return k, true
		}
	}
	return StationKind{}, false
}

// StationsOf are the shop's stations in their own order.
func StationsOf(b *core.Book) []core.Station {
	var out []core.Station
	for _, st := range b.Stations {
		out = append(out, st)
	}
	slices.SortFunc(out, func(a, b core.Station) int {
		return cmp.Or(cmp.Compare(a.Order, b.Order), cmp.Compare(a.ID, b.ID))
	})
	return out
}

// ProposeStations names so many stations of each kind, none of them as one the
// shop has. Each abrades the metal given, where it abrades at all: a belt that
// touched steel never touches aluminium again.
func ProposeStations(b *core.Book, counts map[string]int, metal core.Metal) []core.Station {
	var out []core.Station
	order := 0
	for _, st := range b.Stations {
		order = max(order, st.Order)
	}
	for _, k := range StationKinds {
		has := 0
		for id := range b.Stations {
			if of, ok := KindOf(id); ok && of.Key == k.Key {
				has++
			}
		}
		n := min(counts[k.Key], MostStations)
		for i := range n {
			id := freeName(k.ID, i+1, func(name string) bool {
				_, taken := b.Stations[core.StationID(name)]
				return taken || slices.ContainsFunc(out, func(st core.Station) bool { return string(st.ID) == name })
			})
			number := strings.TrimPrefix(id, k.ID+"-")
			st := core.Station{ID: core.StationID(id), Name: k.Name, Stages: k.Stages, Bench: k.Bench, Dock: k.Dock, Site: k.Site}
			if n+has > 1 {
				st.Name += " " + number
			}
			if k.Belt != "" {
				st.Abrasive, st.Metal = k.Belt+"-"+number, metal
			}
			order += 10
			st.Order = order
			out = append(out, st)
		}
	}
	return out
}

// TypedStation is a station as somebody typed it.
type TypedStation struct {
	core.Station
	Distance string // km by road, for Km
}

// NewTypedStation is a station as its page shows it before anything is typed.
func NewTypedStation(st core.Station) TypedStation { return TypedStation{st, someNumber(st.Km)} }

// SetStations stores stations, new ones and known ones under another name, with
// another metal or at another distance.
func (s *Service) SetStations(ctx context.Context, by Caller, stations []TypedStation) (Slips, error) {
	if err := onlyAdmin(by); err != nil {
		return nil, err
	}
	rows := intake.Typed{}
	for _, st := range stations {
		rows["stations.csv"] = append(rows["stations.csv"], stationRow(st))
	}
	return s.storeTyped(ctx, by, "stations page", rows)
}

func stationRow(st TypedStation) map[string]string {
	stages := make([]string, len(st.Stages))
	for i, n := range st.Stages {
		stages[i] = string(n)
	}
	return map[string]string{
		"station": string(st.ID), "name": st.Name, "stages": strings.Join(stages, " "), "abrasive": st.Abrasive,
		"metal": string(st.Metal), "capacity": someNumber(st.Capacity), "bench": onlyYes(st.Bench), "dock": onlyYes(st.Dock),
		"site": onlyYes(st.Site), "position": someNumber(st.Order), "distance_km": strings.TrimSpace(st.Distance), "abroad": onlyYes(st.Abroad),
	}
}

func someNumber(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func onlyYes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// EnrolHere enrols the device that asks to a station, for an admin who has it
// in hand: the one-time code is made and used in one go. Where the device stood
// at another station before, that enrolment ends.
func (s *Service) EnrolHere(ctx context.Context, by Caller, station core.StationID) (sign.TabletSecret, error) {
	one, err := s.EnrolmentCode(ctx, by, station)
	if err != nil {
		return sign.TabletSecret{}, err
	}
	secret, _, err := s.Enrol(ctx, one.Text())
	if err != nil || !by.OnTablet() {
		return secret, err
	}
	return secret, s.RevokeTablet(ctx, by, by.Tablet)
}
