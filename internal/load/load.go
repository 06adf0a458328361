// Package load has tests alone: many servers of one store under the people of many shops, while servers and the database are
// killed, and one server under requests and files that are malformed. They start the program as it is built and know it by HTTP alone; what
// it keeps they read in the store.
package load
