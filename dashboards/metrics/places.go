package metrics

import (
	"slices"
	"strconv"

	"pourward/alerts"
	"pourward/model"
)

// Names of what tells of a place.
const (
	PlaceKnown        = "pourward_place_known"
	PlaceTemperature  = "pourward_place_temperature_celsius"
	PlaceHumidity     = "pourward_place_relative_humidity_ratio"
	PlaceDewPoint     = "pourward_place_dew_point_celsius"
	PlaceColdestAhead = "pourward_place_coldest_ahead_celsius"
	PlaceHeatingOff   = "pourward_place_heating_off"
	PlaceJudged       = "pourward_place_forecast_judged_seconds"
	PlaceError        = "pourward_place_forecast_error_celsius"
	PlaceWindowMin    = "pourward_place_pour_window_min_celsius"
	PlaceWindowMax    = "pourward_place_pour_window_max_celsius"
	PlacePourVerdict  = "pourward_place_pour_verdict"
	PlacePourReason   = "pourward_place_pour_reason"
	PlaceOpenMolds    = "pourward_place_open_molds"
	PlaceUnpoured     = "pourward_place_unpoured_molds"
	PlaceCoating      = "pourward_place_coating_molds"
	PlaceBelieved     = "pourward_place_believed_probe_info"
	PlaceDiffering    = "pourward_place_differing_probe_info"
	PlaceDifference   = "pourward_place_probe_difference_celsius"
)

func placesTable() []Metric {
	const place = "place"
	return []Metric{
		plain(PlaceKnown, Flag, "1 when the probe at this place gave a temperature that can be trusted lately, 0 when not.", place),
		quantity(PlaceTemperature, celsius, "Temperature at this place, of the air or of the surface the probe sits on. Absent while it is not known.", place),
		quantity(PlaceHumidity, ratio, "Relative humidity over liquid water at this place, from 0 to 1. Absent while it is not known or not measured.", place),
		quantity(PlaceDewPoint, celsius, "Temperature below which a surface here gets wet from the air. Absent while it is not known.", place),
		quantity(PlaceColdestAhead, celsius, "Lowest of the likely temperatures of the next 24 hours at this place. Absent where no open mold needs to know.", place),
		plain(PlaceHeatingOff, Flag, "1 when the heating of this place seems to have gone off, 0 when not. Absent where no open mold needs to know.", place),
		quantity(PlaceJudged, seconds, "Time on record by which the forecast of this place is judged, at most 21 days; below about 5 its spread is assumed. Absent where no open mold needs to know.", place),
		quantity(PlaceError, celsius, "Mean absolute error of the forecast of this place of late, so many hours ahead. Absent while it is not known.", place, "lead_hours"),
		quantity(PlaceWindowMin, celsius, "Lowest temperature at which to pour here, for the rubbers planned here.", place),
		quantity(PlaceWindowMax, celsius, "Highest temperature at which to pour here, for the rubbers planned here.", place),
		states(PlacePourVerdict, "Whether the air at this place is fit to pour in: the verdict that holds is 1, the others are 0.", place),
		plain(PlacePourReason, Flag, "1 for each reason of the air at this place that speaks against pouring, 0 for the others.", place, "reason"),
		plain(PlaceOpenMolds, Amount, "Open molds that stand at this place.", place),
		plain(PlaceUnpoured, Amount, "Open molds at this place without rubber on the pattern.", place),
		plain(PlaceCoating, Amount, "Open molds at this place on which a coat or the release agent dries or is to go next.", place),
		plain(PlaceBelieved, Facts, "Which probe is believed at this place. Always 1.", place, "probe"),
		plain(PlaceDiffering, Facts, "Which probe at this place disagrees most with the believed one. Always 1; absent while they agree.", place, "probe"),
		quantity(PlaceDifference, celsius, "By how much the believed probe is above the one that disagrees with it most, over half an hour; 0 while they agree. Absent where one probe sits alone, and while nothing is known.", place),
	}
}

func collectPlaces(to sink, o *model.Outlook) {
	for _, p := range o.Places {
		collectAir(to, p)
		to.quantity(PlaceColdestAhead, alerts.ColdestAhead(p, o.At), p.Name)
		if alerts.Foreseen(p) {
			to.flag(PlaceHeatingOff, p.HeatedOff, p.Name)
			to.quantity(PlaceJudged, p.Skill.Days*86400, p.Name)
			for _, e := range p.Skill.Errors {
				to.quantity(PlaceError, e.ErrorK, p.Name, strconv.Itoa(e.Hours))
			}
		}
		to.put(PlaceOpenMolds, standing(o, p.Name, (*model.MoldOutlook).Open), p.Name)
		to.put(PlaceUnpoured, standing(o, p.Name, alerts.Unpoured), p.Name)
		to.put(PlaceCoating, standing(o, p.Name, alerts.Coating), p.Name)
		collectAgreement(to, o, p)
	}
}

func collectAir(to sink, p model.PlaceOutlook) {
	to.flag(PlaceKnown, p.Known, p.Name)
	if p.Known {
		to.quantity(PlaceTemperature, p.TempC, p.Name)
		to.quantity(PlaceHumidity, p.Humidity, p.Name)
		to.quantity(PlaceDewPoint, p.DewPointC, p.Name)
	}
	to.quantity(PlaceWindowMin, p.PourMinC, p.Name)
	to.quantity(PlaceWindowMax, p.PourMaxC, p.Name)
	putStates(to, PlacePourVerdict, verdicts(), p.Pour.Verdict, p.Name)
	putReasons(to, PlacePourReason, airReasons(), p.Pour, p.Name)
}

// collectAgreement tells which probe is believed at a place, and whether another speaks against it.
func collectAgreement(to sink, o *model.Outlook, p model.PlaceOutlook) {
	if p.Probe != "" {
		to.put(PlaceBelieved, 1, p.Name, p.Probe)
	}
	if p.OffProbe != "" {
		to.put(PlaceDiffering, 1, p.Name, p.OffProbe)
	}
	probes := 0
	for _, pr := range o.Probes {
		if pr.Place == p.Name {
			probes++
		}
	}
	if p.Known && probes > 1 {
		to.quantity(PlaceDifference, p.OffK, p.Name)
	}
}

// standing counts the molds at a place for which is is true.
func standing(o *model.Outlook, place string, is func(*model.MoldOutlook) bool) float64 {
	n := 0.0
	for i := range o.Molds {
		if m := &o.Molds[i]; m.Place == place && is(m) {
			n++
		}
	}
	return n
}

// verdicts lists the answers to "fit to pour?".
func verdicts() []model.Verdict {
	return []model.Verdict{model.Fit, model.NotFit, model.FitCannot}
}

// airReasons lists the reasons that the air of a place alone may give.
func airReasons() []model.ReasonCode {
	return []model.ReasonCode{model.ReasonNoAir, model.ReasonCold, model.ReasonWarm, model.ReasonDamp}
}

// putReasons exports one series for each reason of all, 1 for those given.
func putReasons(to sink, name string, all []model.ReasonCode, f model.Fitness, of string) {
	for _, code := range all {
		given := slices.ContainsFunc(f.Reasons, func(r model.Reason) bool { return r.Code == code })
		to.flag(name, given, of, string(code))
	}
}
