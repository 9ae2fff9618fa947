package robust

// Float is a brightness or a measure.
type Float interface{ float32 | float64 }

// Median returns the median of v (the upper one of two), whose order it changes.
// 0 for nothing.
func Median[T Float](v []T) T { return Quickselect(v, len(v)/2) }

// Scatter returns the standard deviation of normal deviates whose sizes, without their signs,
// are v, so that a few wrong ones do not matter; it changes the order of v.
func Scatter(v []float64) float64 { return 1.4826 * Median(v) }

// MeanMedian is Median with the mean of the two in the middle where there are two.
func MeanMedian[T Float](v []T) T {
	return (Quickselect(v, (len(v)-1)/2) + Quickselect(v, len(v)/2)) / 2
}

// Quantile returns the value below which the fraction q of v lies; it changes
// the order of v.
func Quantile[T Float](v []T, q float64) T { return Quickselect(v, int(q*float64(len(v)))) }

// Quickselect returns the k-th smallest of v, from 0, by Hoare's selection, in linear
// time; it changes the order of v.
func Quickselect[T Float](v []T, k int) T {
	if len(v) == 0 {
		return 0
	}
	k = min(max(k, 0), len(v)-1)
	lo, hi := 0, len(v)-1
	for lo < hi {
		pivot := v[lo+(hi-lo)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}
