// Package calltest makes calls of the contract for tests: every method there is, found in the descriptors, so that a new
// one is judged without anybody's doing.
//
// A Pool learns from answers what businesses hold. A Maker fills requests from it, at random: mostly with what its caller
// could send, now and then with what nobody should. The same seed and the same answers make the same requests.
package calltest
