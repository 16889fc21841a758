package metrics

import "pourward/model"

// Names of what tells of a place.
const (
	PlaceKnown       = "pourward_place_known"
	PlaceTemperature = "pourward_place_temperature_celsius"
	PlaceHumidity    = "pourward_place_relative_humidity_ratio"
	PlaceDewPoint    = "pourward_place_dew_point_celsius"
	PlaceWindowMin   = "pourward_place_pour_window_min_celsius"
	PlaceWindowMax   = "pourward_place_pour_window_max_celsius"
	PlacePourVerdict = "pourward_place_pour_verdict"
	PlaceOpenMolds   = "pourward_place_open_molds"
)

func placesTable() []Metric {
	const place = "place"
	return []Metric{
		plain(PlaceKnown, Flag, "1 when the probe at this place gave a temperature that can be trusted lately, 0 when not.", place),
		quantity(PlaceTemperature, celsius, "Temperature at this place, of the air or of the surface the probe sits on. Absent while it is not known.", place),
		quantity(PlaceHumidity, ratio, "Relative humidity over liquid water at this place, from 0 to 1. Absent while it is not known or not measured.", place),
		quantity(PlaceDewPoint, celsius, "Temperature below which a surface here gets wet from the air. Absent while it is not known.", place),
		quantity(PlaceWindowMin, celsius, "Lowest temperature at which to pour here, for the rubbers planned here.", place),
		quantity(PlaceWindowMax, celsius, "Highest temperature at which to pour here, for the rubbers planned here.", place),
		states(PlacePourVerdict, "Whether the air at this place is fit to pour in: the verdict that holds is 1, the others are 0.", place),
		plain(PlaceOpenMolds, Amount, "Open molds that stand at this place.", place),
	}
}

func collectPlaces(to sink, o *model.Outlook) {
	molds := map[string]int{}
	for i := range o.Molds {
		if o.Molds[i].Open() {
			molds[o.Molds[i].Place]++
		}
	}
	for _, p := range o.Places {
		to.flag(PlaceKnown, p.Known, p.Name)
		if p.Known {
			to.quantity(PlaceTemperature, p.TempC, p.Name)
			to.quantity(PlaceHumidity, p.Humidity, p.Name)
			to.quantity(PlaceDewPoint, p.DewPointC, p.Name)
		}
		to.quantity(PlaceWindowMin, p.PourMinC, p.Name)
		to.quantity(PlaceWindowMax, p.PourMaxC, p.Name)
		putStates(to, PlacePourVerdict, verdicts(), p.Pour.Verdict, p.Name)
		to.put(PlaceOpenMolds, float64(molds[p.Name]), p.Name)
	}
}

// verdicts lists the answers to "fit to pour?".
func verdicts() []model.Verdict {
	return []model.Verdict{model.Fit, model.NotFit, model.FitCannot}
}
