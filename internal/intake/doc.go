// Package intake reads what a shop already has in other programs from a folder
// of CSV files (RFC 4180), and writes the same files again.
//
// [Read] reads the folder whole: every file, every line, every reference from
// one file to another and to what the shop has laid down already. It returns
// either a [Bundle] that may be stored as it is, or every [Fault] it found, each
// with file, line and column and what would have been right; never some of each.
// [Folder] takes that apart for who wants to look first: [Open] or [OpenFiles],
// then look up what [Folder.Asks] for, then [Folder.Read], and [Folder.Changes]
// says line by line what storing it would do.
//
// The files and their columns are ours; testdata/samples/README.md describes
// them field by field. Any file may be left out.
//
// # How the text is read
//
// RFC 4180 with these decisions: a line ends with CR LF or LF; a byte-order mark
// at the start is dropped; the first line names the columns, in any order;
// spaces belong to the field; an empty line is a fault, not skipped; a line
// break inside a quoted field is kept as it stands. The text is UTF-8.
//
// # Formulas in spreadsheets
//
// A text field whose first character is one of = + - @, a tab or a carriage
// return could run as a formula where a spreadsheet opens the file (OWASP ASVS
// 5.0.0, 1.2.10). [Write] puts one single quote before such a text, and before a
// text that already starts with a single quote followed by one of these or by
// another single quote; [Read] takes that quote off again. So a text comes back
// as it was. Keys begin with a letter or digit, and numbers and dates are
// written by the program, so neither needs it. NUL, which the requirement names
// too, is refused in both directions.
package intake
