// Package identity answers: who makes this call, and may we believe it?
//
// A credential is a JSON Web Token (RFC 7519) signed with Ed25519 (RFC 8037). It binds its bearer to one
// business in one role until it expires. The keys stand in one PEM file: the first private key signs, and
// every key of the file is trusted, so that a new key can be put in front while tokens of the old one still
// count. Time here is the machine's, never the firm's: moving the firm's clock neither revives nor ends a token.
//
// It does not know what a role may do; that stands in the contract and is held by package rpc.
package identity
