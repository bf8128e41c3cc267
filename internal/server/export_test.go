package server

// AddressOf is addressOf, for the tests.
var AddressOf = addressOf
