// Package exchange answers: how does a Problem or a Plan leave the program, and come back the same?
//
// It writes and reads both as JSON, so that a run can be saved, replayed, and judged by somebody else's program. FORMAT.md
// says it all for a stranger: every field with its type, unit and meaning, what is required and what the defaults are.
// problem.schema.json and plan.schema.json say the same for machines.
//
// Invariants: what is written reads back equal, amounts to the last digit; what is read has no unknown field, no field twice,
// no null, no amount without its unit, and a Problem has passed Validate. What is wrong with the shape of a file is said all at
// once, each field by its path; where nothing is, all that Validate says of what it holds. The order of fields is that of the document, always.
//
// Standards: JSON is RFC 8259; instants are RFC 3339, dates ISO 8601; symbols of time units are those of the SI.
package exchange
