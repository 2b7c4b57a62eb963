// Package feed answers: what changed in a business, and who has been told of it?
//
// Deeds of other rooms tell what they change, through the store, in their own transactions. Here it is handed on: as a
// list that programs follow by a cursor, to the technicians whose day routes it concerns, to the office where a
// technician has not acknowledged what is about safety, and to the addresses of others (webhooks).
package feed
