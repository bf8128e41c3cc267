package settings

import (
	"net"
	"strconv"
	"strings"
)

// IsLoopback tells whether an address host:port stays on this machine: 127.0.0.0/8, ::1 or localhost (RFC 6890, RFC
// 6761). An address without a host is every interface, so it is not.
func IsLoopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// isPrivate tells whether an address host:port is one of a private network (RFC 1918, RFC 4193).
func isPrivate(address string) bool {
	host, _, err := net.SplitHostPort(address)
	ip := net.ParseIP(host)
	return err == nil && ip != nil && ip.IsPrivate()
}

// wrongAddress says what is wrong with host:port; "" when nothing is. anyHost allows an empty host, and port 0.
func wrongAddress(address string, anyHost bool) string {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return "must be host:port, for example 127.0.0.1:7347"
	}
	if host == "" && !anyHost {
		return "names no host; write host:port, for example 127.0.0.1:7347"
	}
	number, err := strconv.ParseUint(port, 10, 16)
	if err != nil || number == 0 && !anyHost {
		return "the port must be a number from 1 to 65535"
	}
	return ""
}

// parted are the addresses of a list parted by commas.
func parted(list string) (addresses []string) {
	for address := range strings.SplitSeq(list, ",") {
		if address = strings.TrimSpace(address); address != "" {
			addresses = append(addresses, address)
		}
	}
	return addresses
}
