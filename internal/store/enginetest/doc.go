// Package enginetest opens stores of the engine that tests are built for: in a file, or with the tag etcd in etcd, which must be
// installed then.
package enginetest
