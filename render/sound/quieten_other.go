//go:build !linux

package sound

// quieten is for systems whose sound library writes to standard error.
func quieten() {}
