package ring

// middle returns the median of v (the upper one of two), whose order it changes.
// 0 for nothing.
func middle(v []float64) float64 { return nth(v, len(v)/2) }

// quantile returns the value below which the fraction q of v lies; it changes
// the order of v.
func quantile(v []float64, q float64) float64 { return nth(v, int(q*float64(len(v)))) }

// nth returns the k-th smallest of v by Hoare's selection; linear in time.
func nth(v []float64, k int) float64 {
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
