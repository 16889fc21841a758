package config_test

import (
	"fmt"

	"pourward/cmd/pourward/internal/config"
)

func ExampleParse() {
	_, err := config.Parse("shop.yml", []byte(`
shop: {name: Annex, zone: Europe/Brussels}
journal: {file: shop.journal, flush: "10 s"}
places: [{name: bench}, {name: shelf}]
probes:
  - name: bench-air
    place: bnech
    w1: {id: 28-0000072431d7}
pour: {min: 18, max: "90 °F"}
`))
	fmt.Println(err)
	// Output:
	// shop.yml:7:12: there is no place "bnech"; did you mean bench?
	// shop.yml:9:13: pour.min: "18" has no unit; write e.g. min: "18 °C" or "18 °F"
}

func ExampleParseTemp() {
	tempC, err := config.ParseTemp("68 °F")
	fmt.Println(tempC, err)
	_, err = config.ParseTemp("68")
	fmt.Println(err)
	// Output:
	// 20 °C <nil>
	// "68" has no unit; write e.g. "68 °C" or "68 °F"
}
