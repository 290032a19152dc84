// Where the sun stands and when it rises and sets, by suncalc: [{at, latitude,
// longitude}] in, [{altitude, sunrise, sunset, alwaysUp, alwaysDown}] out.
// altitude is in degrees and holds refraction.
import * as SunCalc from 'suncalc';
import { answer } from './read.mjs';

await answer((places) => places.map(({ at, latitude, longitude }) => {
  const times = SunCalc.getTimes(new Date(at), latitude, longitude);
  return {
    altitude: SunCalc.getPosition(new Date(at), latitude, longitude).altitude,
    sunrise: times.sunrise, sunset: times.sunset,
    alwaysUp: times.alwaysUp === true, alwaysDown: times.alwaysDown === true,
  };
}));
