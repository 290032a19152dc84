// A calendar read by ical.js: {text} in, its properties and entries out.
import ICAL from 'ical.js';
import { answer } from './read.mjs';

const when = (time) => time && (time.isDate ? time.toString() : time.toJSDate().toISOString());

await answer(({ text }) => {
  const calendar = new ICAL.Component(ICAL.parse(text));
  const properties = {};
  for (const p of calendar.getAllProperties()) properties[p.name] = String(p.getFirstValue());
  const events = calendar.getAllSubcomponents('vevent').map((component) => {
    const event = new ICAL.Event(component);
    const value = (name) => component.getFirstPropertyValue(name);
    return {
      uid: event.uid, sequence: event.sequence, summary: event.summary, description: event.description,
      location: event.location, url: value('url'), status: value('status'), transparency: value('transp'),
      start: when(event.startDate), end: when(event.endDate), days: event.startDate.isDate, zone: event.startDate.zone.tzid,
      stamp: when(value('dtstamp')), created: when(value('created')), modified: when(value('last-modified')),
      alarms: component.getAllSubcomponents('valarm').map((alarm) => ({
        action: alarm.getFirstPropertyValue('action'), text: alarm.getFirstPropertyValue('description'),
        seconds: alarm.getFirstPropertyValue('trigger').toSeconds(),
      })),
    };
  });
  return { properties, events };
});
