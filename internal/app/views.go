package app

import (
	"time"

	"tagalong/internal/core"
)

// PalletCard is a pallet in a list.
type PalletCard struct {
	Code      core.PalletCode  `json:"code"`
	Kind      core.CarrierKind `json:"kind"`
	Label     string           `json:"label"`
	Parts     int              `json:"parts"`
	Lots      int              `json:"lots"`
	Names     []string         `json:"names"` // of the items on it, without doubles, most parts first
	Orders    []string         `json:"orders"`
	Customer  string           `json:"customer"` // of the oldest promise
	Promised  core.Date        `json:"promised"`
	Station   core.StationID   `json:"station"`
	Bound     core.StationID   `json:"bound"`
	Slot      string           `json:"slot,omitempty"`
	Since     time.Time        `json:"since"`
	NextStage core.StageName   `json:"nextStage"` // of the lot that comes first
	Stages    []core.StageName `json:"stages"`
	Held      bool             `json:"held"`
	Begun     bool             `json:"begun"`
}

// SheetCard is a sheet or bar with its nest.
type SheetCard struct {
	Code     core.PalletCode
	Label    string
	Material core.ItemRev
	Heat     string
	Slot     string
	Nest     core.Nest
	Cut      bool
}

// OrderCard is an order in a list.
type OrderCard struct {
	core.Order
	Asked, Made, Packed, Shipped int // units to be delivered; a product put together at the site counts as its components
	Live                         int // parts on pallets
	Held                         bool
	Late                         bool
}

// Hit is one thing the search found.
type Hit struct {
	Kind  string `json:"kind"` // order, item, pallet, consignment
	Key   string `json:"key"`
	Title string `json:"title"`
	Sub   string `json:"sub"`
}

// Wall is the shop at one glance.
type Wall struct {
	AsOf    time.Time
	Seq     int64 // the last event it counts
	Pallets int
	Groups  []WallGroup
	Held    []WallLine
	Late    []WallLine
	Remakes []WallLine // decided longer ago than OldRemake, and not there yet; the oldest first
	Today   WallDay
}

// WallGroup is one group of stages, in route order.
type WallGroup struct {
	Name    string
	Pallets int
	Minutes float64 // of work waiting
	Held    int
	Oldest  time.Time // since when its oldest pallet waits
	Ages    []WallAge // oldest first, at most eight
}

// WallAge is one waiting pallet as a bar.
type WallAge struct {
	Pallet core.PalletCode
	Since  time.Time
	Held   bool
	Late   bool
}

// WallLine is one held thing or one late order.
type WallLine struct {
	Order string
	What  string
	Since time.Time
	Date  core.Date
}

// WallDay is what the day has done.
type WallDay struct {
	Signed, Parts, Packed, Shipped, Refused int
}
