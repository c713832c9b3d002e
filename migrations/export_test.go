package migrations

// UpFrom is Up with files of a test's own.
var UpFrom = up
