package heat

import "math"

// The classical series for a body of uniform start in a step of air: an
// infinite slab of half thickness 1, cylinder or sphere of radius 1 (Carslaw
// and Jaeger, Conduction of Heat in Solids; Incropera; Cengel).

// characteristic is zero at the roots of a shape's series.
func characteristic(shape Shape, biot, z float64) float64 {
	switch shape {
	case Cylinder:
		return z*math.J1(z) - biot*math.J0(z)
	case Sphere:
		return math.Sin(z) - z*math.Cos(z) - biot*math.Sin(z)
	}
	return z*math.Sin(z) - biot*math.Cos(z)
}

// roots returns the first n roots by scanning for changes of sign.
func roots(shape Shape, biot float64, n int) []float64 {
	var found []float64
	const step = 0.01
	for z := step / 7; len(found) < n; z += step {
		if f, g := characteristic(shape, biot, z), characteristic(shape, biot, z+step); f*g < 0 {
			found = append(found, bisect(func(z float64) float64 { return characteristic(shape, biot, z) }, z, z+step))
		}
	}
	return found
}

// bisect finds a zero between low and high, where f changes sign.
func bisect(f func(float64) float64, low, high float64) float64 {
	sign := f(low)
	for range 100 {
		if middle := (low + high) / 2; f(middle)*sign > 0 {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// coefficient is the weight of the term with root z.
func coefficient(shape Shape, z float64) float64 {
	switch shape {
	case Cylinder:
		j0, j1 := math.J0(z), math.J1(z)
		return 2 / z * j1 / (j0*j0 + j1*j1)
	case Sphere:
		return 4 * (math.Sin(z) - z*math.Cos(z)) / (2*z - math.Sin(2*z))
	}
	return 4 * math.Sin(z) / (2*z + math.Sin(2*z))
}

// profile is the shape of the term with root z at place x, 0..1.
func profile(shape Shape, z, x float64) float64 {
	switch shape {
	case Cylinder:
		return math.J0(z * x)
	case Sphere:
		if x == 0 {
			return 1
		}
		return math.Sin(z*x) / (z * x)
	}
	return math.Cos(z * x)
}

// expansion is the solution of one shape and Biot number.
type expansion struct {
	shape Shape
	z, c  []float64
}

// expansionOf finds as many terms as any time of interest takes.
func expansionOf(shape Shape, biot float64) expansion {
	s := expansion{shape: shape, z: roots(shape, biot, 60)}
	for _, z := range s.z {
		s.c = append(s.c, coefficient(shape, z))
	}
	return s
}

// left is the share of the step that has not yet arrived at place x after a
// Fourier number.
func (s expansion) left(fourier, x float64) float64 {
	sum := 0.0
	for i, z := range s.z {
		sum += s.c[i] * math.Exp(-z*z*fourier) * profile(s.shape, z, x)
	}
	return sum
}

// left is the same for a single value.
func left(shape Shape, biot, fourier, x float64) float64 {
	return expansionOf(shape, biot).left(fourier, x)
}

// meanLeft is left averaged over a slab.
func meanLeft(biot, fourier float64) float64 {
	sum := 0.0
	for _, z := range roots(Slab, biot, 60) {
		sum += coefficient(Slab, z) * math.Exp(-z*z*fourier) * math.Sin(z) / z
	}
	return sum
}

// Numbers of the rubber used throughout: 0.22 W/mK, 1200 kg/m³, 1300 J/kgK, 8 W/m²K.
const (
	rubberAlpha = 0.22 / (1200 * 1300)
	rubberBiot  = 8 * 0.04 / 0.22 // of 40 mm
)

// rubberFourier is the Fourier number of 40 mm after seconds.
func rubberFourier(seconds float64) float64 { return rubberAlpha * seconds / (0.04 * 0.04) }

// scaledErfc is exp(z²)·erfc(z).
func scaledErfc(z float64) float64 {
	if z > 25 {
		return (1 - 1/(2*z*z) + 3/(4*z*z*z*z)) / (z * math.SqrtPi)
	}
	return math.Exp(z*z) * math.Erfc(z)
}

// deepStep is the share of a step of air that a deep body has followed at depth
// x (Carslaw and Jaeger 2.7).
func deepStep(k, alpha, h, x, seconds float64) float64 {
	depth := x / (2 * math.Sqrt(alpha*seconds))
	reach := h * math.Sqrt(alpha*seconds) / k
	return math.Erfc(depth) - math.Exp(-depth*depth)*scaledErfc(depth+reach)
}
