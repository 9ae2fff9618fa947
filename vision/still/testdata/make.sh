#!/bin/sh
# Makes the pictures in this folder with outside programs, from formulas:
#   grey8   g(x,y) = 3x + 2y               48 x 32
#   grey16  g(x,y) = 257 (3x + 2y) + x
#   colour  r = 5x, g = 7y, b = 3x + 2y
# Needs ffmpeg, awk and fpack (libcfitsio-bin). The tests hold what is read against the formulas.
set -eu
cd "$(dirname "$0")"
pnm() { # kind maxval expression...
	awk -v kind="$1" -v top="$2" 'BEGIN { print kind; print 48, 32; print top
		for (y = 0; y < 32; y++) for (x = 0; x < 48; x++) print '"$3"' }'
}
ff() { ffmpeg -nostdin -loglevel error -y "$@"; }
# ffmpeg reads only the binary kinds of PNM: pack the numbers by hand.
bytes() { awk -v wide="$1" 'NR <= 3 { sub(/^P2/, "P5"); sub(/^P3/, "P6"); print; next }
	{ for (i = 1; i <= NF; i++) { if (wide) printf "%c", int($i / 256); printf "%c", $i % 256 } }'; }
export LC_ALL=C
pnm P2 255 '3*x+2*y' | bytes 0 > grey8.pgm
pnm P2 65535 '257*(3*x+2*y)+x' | bytes 1 > grey16.pgm
pnm P3 255 '5*x, 7*y, 3*x+2*y' | bytes 0 > colour.ppm
pnm P3 65535 '257*5*x, 257*7*y, 257*(3*x+2*y)' | bytes 1 > colour16.ppm
ff -i grey8.pgm -pix_fmt gray grey8.png
ff -i grey16.pgm -pix_fmt gray16be grey16.png
ff -i colour.ppm -pix_fmt rgb24 colour.png
ff -i colour16.ppm -pix_fmt rgb48be colour16.png
ff -i grey8.pgm -pix_fmt gray -q:v 1 grey8.jpg
ff -i colour.ppm -pix_fmt yuvj444p -q:v 1 colour.jpg
ff -i grey8.pgm -pix_fmt gray -compression_algo raw grey8.tif
ff -i grey16.pgm -pix_fmt gray16le -compression_algo lzw grey16.tif
ff -i colour.ppm -pix_fmt rgb24 -compression_algo deflate colour.tif
ff -i grey8.pgm -pix_fmt gray grey8.fits      # stored bottom row first, no ROWORDER
ff -i grey16.pgm -pix_fmt gray16be grey16.fits
rm -f grey16.fits.fz; fpack -r grey16.fits     # tile-compressed, Rice
ff -i colour.ppm -pix_fmt gbrp colour.fits
rm grey8.pgm grey16.pgm colour.ppm colour16.ppm
