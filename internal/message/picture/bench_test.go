package picture

import "testing"

func BenchmarkSVG(b *testing.B) {
	bed := sampleBed()
	for b.Loop() {
		SVG(bed)
	}
}

func BenchmarkPNG(b *testing.B) {
	bed := sampleBed()
	for b.Loop() {
		if _, err := PNG(bed, 2); err != nil {
			b.Fatal(err)
		}
	}
}
