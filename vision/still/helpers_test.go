package still

import (
	"bytes"
	"compress/gzip"
	"hash/crc32"
)

func crc(b []byte) uint32 { return crc32.ChecksumIEEE(b) }

func gzipped(text string) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write([]byte(text))
	z.Close()
	return b.Bytes()
}
