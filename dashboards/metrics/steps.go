package metrics

import "pourward/model"

// Names of what tells of a step of an open mold.
const (
	StepInfo      = "pourward_step_info"
	StepBegun     = "pourward_step_begun_timestamp_seconds"
	StepStanding  = "pourward_step_standing"
	StepEarliest  = "pourward_step_earliest_timestamp_seconds"
	StepLikely    = "pourward_step_likely_timestamp_seconds"
	StepLatest    = "pourward_step_latest_timestamp_seconds"
	StepNotBefore = "pourward_step_not_before_timestamp_seconds"
	StepShutEarly = "pourward_step_closes_earliest_timestamp_seconds"
	StepShut      = "pourward_step_closes_likely_timestamp_seconds"
	StepShutLate  = "pourward_step_closes_latest_timestamp_seconds"
	StepShare     = "pourward_step_share_ratio"
	StepColdFrom  = "pourward_step_too_cold_from_timestamp_seconds"
	StepRoomTime  = "pourward_step_room_time_seconds"
)

func stepsTable() []Metric {
	of := func() []string { return []string{"mold", "step", "kind"} }
	return []Metric{
		plain(StepInfo, Facts, "What each step of an open mold is, and of what material. Always 1.", append(of(), "title", "material")...),
		moment(StepBegun, "When the step began: the coat or layer went on, the parts met, the rubber was poured.", of()...),
		states(StepStanding, "Where the step stands: the standing that holds is 1, the others are 0. It stays, as closed, when the maker has gone on.", of()...),
		moment(StepEarliest, "Time before which one in ten like it is done. Absent where no honest band can be told, and when closed.", of()...),
		moment(StepLikely, "Time before which five in ten like it are done. Absent where no honest band can be told, and when closed.", of()...),
		moment(StepLatest, "Time before which nine in ten like it are done. Absent where no honest band can be told, and when closed.", of()...),
		moment(StepNotBefore, "Where no band can be told: it will not be done before this. Absent otherwise.", of()...),
		moment(StepColdFrom, "Of a cure that is not done: from when on the air is likely below the temperature its class is doubtful under. Absent where that is not foreseen.", of()...),
		moment(StepShutEarly, "Of a layer window: time before which one in ten like it no longer takes another layer. Absent where no honest band can be told, and when closed.", of()...),
		moment(StepShut, "Of a layer window: time before which five in ten like it no longer take another layer. Absent where no honest band can be told, and when closed.", of()...),
		moment(StepShutLate, "Of a layer window: time before which nine in ten like it no longer take another layer. Absent where no honest band can be told, and when closed.", of()...),
		quantity(StepShare, ratio, "Share of the way done by the newest outlook, likely value, from 0 to 1. Absent when closed.", of()...),
		quantity(StepRoomTime, seconds, "What the step takes at the material's reference temperature. Absent when that is not known, and when closed.", of()...),
	}
}

func collectStep(to sink, mold string, s model.Step) {
	kind := string(s.Kind)
	to.put(StepInfo, 1, mold, s.Name, kind, s.Title, s.Material)
	to.instant(StepBegun, s.Begun, mold, s.Name, kind)
	putStates(to, StepStanding, model.Standings(), s.Standing, mold, s.Name, kind)
	if s.Standing == model.Closed {
		return
	}
	to.instant(StepEarliest, s.Band.Earliest, mold, s.Name, kind)
	to.instant(StepLikely, s.Band.Likely, mold, s.Name, kind)
	to.instant(StepLatest, s.Band.Latest, mold, s.Name, kind)
	to.instant(StepShutEarly, s.Closes.Earliest, mold, s.Name, kind)
	to.instant(StepShut, s.Closes.Likely, mold, s.Name, kind)
	to.instant(StepShutLate, s.Closes.Latest, mold, s.Name, kind)
	to.instant(StepNotBefore, s.NotBefore, mold, s.Name, kind)
	to.instant(StepColdFrom, s.ColdFrom, mold, s.Name, kind)
	to.quantity(StepShare, s.Share, mold, s.Name, kind)
	if s.RoomTime > 0 {
		to.put(StepRoomTime, s.RoomTime.Seconds(), mold, s.Name, kind)
	}
}
