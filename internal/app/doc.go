// Package app holds the use cases of the shop: who may ask what, how a command
// travels from a tablet to the core and back, and what each screen is shown.
// It owns the interfaces of the store; nothing in it knows SQL or HTML.
package app
