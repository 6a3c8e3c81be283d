package linkage

// ClampingOrder is the order in which n bolts in a row, numbered 1 to n from one
// end, are tightened: from the middle outwards, the sides in turn, so that what
// they hold is pressed flat from its middle and not bowed between its ends. Of
// two middle bolts the lower number comes first; of an odd row, after its middle
// bolt, the higher. With n under 1 there is none. Common practice, no source.
func ClampingOrder(n int) []int {
	var order []int
	middle := (n + 1) / 2
	for out := 0; len(order) < n; out++ {
		if out == 0 {
			order = append(order, middle)
			continue
		}
		above, below := middle+out, middle-out
		if above <= n {
			order = append(order, above)
		}
		if below >= 1 {
			order = append(order, below)
		}
	}
	return order
}
