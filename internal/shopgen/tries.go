package shopgen

import "tagalong/internal/core"

// Try is one thing worth trying in the demo shop as it stands now.
type Try struct {
	Key         string
	Title, Text string          // what to do
	Shows       string          // what comes of it
	At          core.StationID  // the tablet to be; empty: the office
	By          core.PersonID   // who signs, or is signed in
	Badge       string          // to be scanned instead of the badge of By
	PIN         string          // to be typed instead of theirs
	Code        core.PalletCode // to be typed; of no pallet
	Pallet      core.PalletCode // where it is about one
	Stage       core.StageName  // where it is about one step of that
	Next        string          // the page it starts on
	Refused     bool            // it ends in a refusal
	None        bool            // the shop has nothing for it just now
}

// trial is a try before its pallet is found.
type trial struct {
	Try
	// find fills in what the shop as it stands decides, and reports whether
	// there is anything.
	find func(*finder, *Try) bool
}

// trials is the list, in the order of the page.
var trials = []trial{
	{Try{Key: "release", Title: "Release a weld", At: "INSPECT-1", By: "P19", Stage: "weld-inspect",
		Text:  "Inspect the weld, tick and measure, sign: release it, or refuse it and say why.",
		Shows: "Released, the step after it is open. Refused, the part is held until quality says what becomes of it."},
		at("INSPECT-1", "weld-inspect")},
	{Try{Key: "maker", Title: "Release your own weld", At: "INSPECT-1", Stage: "weld-inspect", Refused: true,
		Text:  "Sign the same release with the badge of whoever welded it.",
		Shows: "A hold point is released by somebody who made none of it."},
		(*finder).welder},
	{Try{Key: "hold", Title: "Pass an unreleased hold", At: "PRETREAT-1", Refused: true,
		Text:  "Scan the welded part at the pretreat line before anybody has released its weld.",
		Shows: "Nobody gets past a hold point; the page says who has to release it."},
		at("INSPECT-1", "weld-inspect")},
	{Try{Key: "station", Title: "Work at the wrong station", At: "HAND-AL", Refused: true,
		Text:  "Scan a pallet that waits for a press brake at the hand rounding bench.",
		Shows: "The page says where the pallet is wanted instead."},
		at("", "fold")},
	{Try{Key: "edges", Title: "Coat a sharp edge", At: "BOOTH-1", Refused: true,
		Text:  "Scan parts whose edges are still sharp from the laser at the spray booth.",
		Shows: "Powder pulls back from a sharp edge: the edges come first, and no concession goes round that."},
		(*finder).sharp},
	{Try{Key: "belts", Title: "Mix belts and metals", At: "ROUND-SS", By: "P16", Stage: "edge-round", Refused: true,
		Text:  "Take aluminium in at the line with stainless belts, tick the check, and sign.",
		Shows: "A belt keeps every metal it touched, for life."},
		at("ROUND-AL", "edge-round")},
	{Try{Key: "held", Title: "Work on what is held", At: "HARDWARE-1", By: "P29", Stage: "tap", Refused: true,
		Text:  "The lifting eye plates are held: a worn thread gauge. Tap them all the same.",
		Shows: "The hold, its reason, and who may lift it."},
		(*finder).held},
	{Try{Key: "lost", Title: "Sign with a badge that was lost", At: "INSPECT-1", Stage: "final-check", Refused: true,
		Text:  "Sign the final check with the badge that was lost.",
		Shows: "Whose it was, and that it signs nothing any more."},
		(*finder).lostBadge},
	{Try{Key: "pin", Title: "Guess a PIN", At: "INSPECT-1", By: "P18", PIN: "135790", Stage: "final-check", Refused: true,
		Text:  "Sign the final check with the right badge and a wrong PIN. Do it again, and again.",
		Shows: "A wrong try is counted, and soon the tablet makes you wait."},
		at("INSPECT-1", "final-check")},
	{Try{Key: "mistyped", Title: "Mistype a code", At: "INSPECT-1", Next: "/station", Refused: true,
		Text:  "Type a pallet's code with two letters changed over.",
		Shows: "The check character catches it before anybody looks for a pallet."},
		(*finder).mistyped},
	{Try{Key: "stale", Title: "Scan an old ticket", Refused: true,
		Text:  "A pallet was split and printed again. Scan its first print.",
		Shows: "What has changed since that print, before you rely on it."},
		(*finder).oldPrint},
	{Try{Key: "two", Title: "Two visitors, one pallet", At: "BRAKE-1", Refused: true,
		Text:  "Print the traveller of this pallet anew, then ask somebody to do so in another browser.",
		Shows: "The demo lets one visitor at a time work on a pallet, and tells the other so."},
		at("", "fold")},
	{Try{Key: "fold", Title: "Sign a part of it", At: "BRAKE-1", By: "P17", Stage: "fold",
		Text:  "Sign all of a pallet, or some of it, or report one part bent wrong.",
		Shows: "Lots split where their parts fare differently; bad ones go to quarantine with a ticket of their own."},
		at("", "fold")},
	{Try{Key: "coat", Title: "Measure a coat", At: "COAT-TABLE-1", By: "P20", Stage: "coat-inspect",
		Text:  "Type a film thickness below the limit and see what the page says, then one inside it.",
		Shows: "The reading is kept with the gauge; one below the limit accepts nothing."},
		at("COAT-TABLE-1", "coat-inspect")},
	{Try{Key: "separate", Title: "Break out a cut sheet", At: "BENCH-1", By: "P06",
		Text:  "The cutting list says nest N-7004. Tick it off, put the parts on pallets and print their travellers.",
		Shows: "Lots are born with the sheet's heat. Its stiffeners are what the second wall panel lacks."},
		(*finder).sheet},
	{Try{Key: "unit", Title: "See what a unit lacks", At: "WELD-2", By: "P13", Next: "/station",
		Text:  "The second wall panel is gathered by half.",
		Shows: "What is missing, and where that is."},
		(*finder).unit},
	{Try{Key: "truck", Title: "Send the truck", At: "DOCK-1", By: "P25", Next: "/dock",
		Text:  "The louvre banks are packed and loaded. See what the order lacks, then send them: the customer agreed to a part shipment.",
		Shows: "The packing list, and on the wall one more sent today."},
		(*finder).truck},
	{Try{Key: "receive", Title: "Receive a truck", By: "P27", Next: "/station",
		Text:  "A truck is on the road. Be the fitter at its site, count, and sign.",
		Shows: "The order is at its site, and the record says who received it."},
		(*finder).onRoad},
	{Try{Key: "dispose", Title: "Say what becomes of it", By: "P03", Next: "/quality",
		Text:  "A scratched door leaf, a damaged bracket and a louvre bank with orange peel wait for a disposition.",
		Shows: "Rework gets a route of its own, a remake is cut again; the order knows either way."},
		(*finder).problem},
	{Try{Key: "where", Title: "Where is my order?", By: "P04", Next: "/find?q=O-4101",
		Text:  "The hospital's order is late. Ask for it.",
		Shows: "One sentence to read out, then where everything is."},
		func(*finder, *Try) bool { return true }},
	{Try{Key: "proof", Title: "Who made it?", By: "P03", Next: "/history/order/O-4096",
		Text:  "Wall panels that were shipped a week ago.",
		Shows: "Every sheet, welder, powder batch and signature of them."},
		func(*finder, *Try) bool { return true }},
}
