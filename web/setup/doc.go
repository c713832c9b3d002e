// Package setup is the pages that lead from an empty shop to its first printed
// traveller, one thing at a time: the shop's name, stations, somebody who signs,
// a tablet, an item with its route, an order, a sheet and its nest, then the
// first cut. Each says where one is in the list of what is left; whatever is
// there already, typed or imported, is ticked. What is typed is judged and
// stored by the way of an import.
package setup
