// Package sign holds what a signature rests on: badges, PINs and their slow
// hash, the limit on wrong tries, one-time codes and tablet secrets.
//
// What it follows, and where it falls short. Hashing and throttling follow
// NIST SP 800-63B-4: salted, memory-hard, with a key kept apart from the
// hashes, and at most 100 wrong tries in a row. The rest of that guideline is
// not met: a PIN of six digits checked by a server is a short password to it,
// and a badge with a printed QR symbol can be copied with a camera. What makes
// the pair good enough for a sign-off is that it is only taken on an enrolled
// tablet, inside the shop.
//
// The package keeps no state but a cache in memory; stores keep the rest. It
// imports nothing of ours.
package sign
