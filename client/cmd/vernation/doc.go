// Command vernation is the command line of those who use the server: the office, technicians, and programs beside them.
//
//	vernation office case list
//	vernation office plan create --days 14 --wait
//	vernation technician day-route get 2026-03-03
//	vernation technician pack take monday.pack
//	vernation integration record list-application-records --output csv
//
// There is a group for each role of the contract, and in it a command for each method that the role may call, with a flag
// for each field of its request and the contract's own comments as help: the commands are made from the contract, so that
// none is missing. What people read daily has tables and texts of its own; all else is printed by its fields. JSON and CSV
// are for programs: JSON is the contract's, as the HTTP port speaks it, and the columns of CSV follow from the contract
// alone.
//
// Exit codes: 0 done; 1 failed otherwise; 2 the command line cannot be understood; 3 a field is wrong; 4 something that
// is named does not exist; 5 a rule or a state forbids it; 6 no right to it; 7 it was changed meanwhile, or exists;
// 8 the server is away or asks to wait.
//
// What it prints never stands above a product's label, local law or the judgement of a licensed applicator.
package main
