// Package identity answers: who makes this call, and may we believe it?
//
// A credential is a JSON Web Token (RFC 7519) signed with Ed25519 (EdDSA, RFC 8037) or P-256 (ES256, RFC 7518). It binds
// its bearer to one business in one role until it expires. The keys stand in one file. In a PEM file the first private key
// signs, and every key is trusted, so that a new key can be put in front while tokens of the old one still count; a JSON
// Web Key Set holds the public keys of whoever else signs. Programs of a business may have an integration key in the
// place of a token; its secret is kept as a hash. Time here is the machine's, never the firm's: moving the firm's clock neither revives nor ends a token.
//
// It does not know what a role may do; that stands in the contract and is held by package rpc.
package identity
