// Package demo acts out the main job once, for a person to read: an office, a technician and an integration, each
// with a token of its own, over real gRPC, on the invented business of testdata/demo.yaml.
//
// It knows the contract and nothing behind it: all that it prints came over the wire. The firm's clock is moved
// as the story goes on, and plans are made by iterations, so that it prints the same each time.
package demo
