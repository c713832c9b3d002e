// Package shopgen makes the demo shop: Corrie Sheetworks of Larkfield, where
// everything is invented. It is made by the commands people use, sent through
// the same service with badges, PINs and enrolled tablets, on a simulated clock
// that ends at the present; nothing is written behind the core's back. The same
// seed and the same present make the same shop.
package shopgen
