package bound

// Parted is parted, for tests.
var Parted = parted
