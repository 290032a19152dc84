package validation

import (
	"fmt"
	"io"
	"text/tabwriter"
)

// WriteTable prints one row a winter and depth.
func WriteTable(w io.Writer, lines []Line) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(t, "site\twinter\tdepth_cm\thours\tbias_k\trmse_k\tmin_modelled_c\tmin_observed_c\t\n")
	for _, l := range lines {
		fmt.Fprintf(t, "%s\t%s\t%g\t%d\t%+.2f\t%.2f\t%.2f\t%.2f\t\n",
			l.Site, l.Winter, l.DepthCm, l.N, l.Bias, l.RMSE, l.MinModelled, l.MinObserved)
	}
	return t.Flush()
}
