package store

// Writes says whether a statement writes what people read, to tests.
var Writes = writes
