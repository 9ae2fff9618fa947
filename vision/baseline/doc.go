// Package baseline compares the ring measurement with general-purpose vision:
// OpenCV's Hough circles, and its contours with fitted ellipses, on the same
// frames. All of it is in the tests; nothing imports it.
package baseline
