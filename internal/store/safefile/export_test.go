package safefile

// MakeDirsIn is how MakeDirs makes folders.
var MakeDirsIn = makeDirs
