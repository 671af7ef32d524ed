// Words of a tree's pace and of bringing trees out; part of the catalogue in text.js.

const n = (count, one, many) => `${count} ${count === 1 ? one : many}`;
const and = (parts) => (parts.length < 2 ? parts.join('') : `${parts.slice(0, -1).join(', ')} and ${parts.at(-1)}`);
const range = (low, high) => (low === high ? `About ${low}` : `${low} to ${high}`);

export const springWords = {
  pace: {
    title: 'Pace', why: 'Why', drawnAs: (age) => `Drawn as home saw it ${age}.`,
    word: { ahead: 'Ahead', 'on pace': 'On pace', behind: 'Behind', unknown: 'Can’t tell yet' },
    now: 'now',
    leaves: (low, high, seen, by) => `${range(low, high)} leaves a shoot expected by ${by}, ${seen} seen.`,
    shoots: (low, high, seen, by, unit) => `${range(low, high)} ${unit} of shoot growth expected by ${by}, ${seen} measured.`,
    woke: {
      seen: (day, heat) => `It woke about ${day} and has had ${heat} since.`,
      ofKind: (day, heat) => `Nobody saw it wake; its kind woke about ${day}, and it has had ${heat} since.`,
      evergreen: (day, heat) => `It has had ${heat} since ${day}.`,
    },
    heat: (sum, unit) => `${sum} degree-days (°${unit})`,
    guessed: (days) => `No thermometer was read on ${n(days, 'of those days', 'of those days')}, so common warmth stands in for ${days === 1 ? 'it' : 'them'}. Readings make this surer.`,
    rests: (own, variety, species) => {
      const parts = [own && `its own ${n(own, 'earlier year', 'earlier years')}`, variety && `${n(variety, 'other tree', 'other trees')} of its variety`,
        species && `${n(species, 'more', 'more')} of its species`].filter(Boolean);
      return parts.length ? `What is expected rests on ${and(parts)}.` : 'No other tree like it was counted, so what is expected is only what is common for its kind.';
    },
    sure: (hundred) => {
      if (hundred >= 99) return 'Hardly one in a hundred sound trees like it would lag so far.';
      if (hundred <= 1) return 'Hardly one in a hundred trees like it would be so far on.';
      return `Of a hundred trees like it, about ${hundred} would be further on.`;
    },
    leavesUnit: 'leaves a shoot', leavesAxis: 'Leaves a shoot', shootsAxis: (unit) => `Shoot growth, ${unit}`,
  },
  out: {
    title: 'Bring out',
    none: { tree: 'This tree is not on this phone.', place: 'No tree stands here now.', barrow: 'No tree is chosen. Scan some first.', begun: 'No plan has been begun on this phone.' },
    underWay: (count) => `Being brought out: ${n(count, 'tree', 'trees')}`, to: 'Where to', brightest: 'the brightest place outdoors',
    asking: 'Home is working it out.', away: 'Home makes the plan, and it cannot be reached now. A plan that was seen once stays on this phone.',
    asOf: (age) => `From home, ${age}.`, stillFrom: (age) => `Home cannot be reached now; this is what it said ${age}.`,
    begin: 'Begin today', beginOn: (day) => `Begin on ${day}`, begun: (day) => `Begun on ${day}.`, began: 'The plan keeps its days from now on, on this phone.',
    plan: 'Plan the way, day by day',
    putAway: 'Put this plan away', giveUp: 'Give up this plan', giveUpSure: 'Yes, end it', gaveUp: 'The plan has ended.',
    way: (from, to) => `From ${from} to ${to}`, which: (count) => `Which ${n(count, 'tree', 'trees')}`,
    days: (count) => n(count, 'day', 'days'), lasts: (days, day) => `${days}, then for good from ${day}.`, noEnd: (days) => `${days}, and no end in sight yet.`,
    todays: (step) => `Today: ${step}.`, columns: (place) => `Sun: in the morning, in ${place}; the rest of the day where it stands. mol: light on a square metre in a day.`,
    outcome: { go: 'No plan needed', there: 'Out already', ground: 'Nothing to carry', unknown: 'No plan yet' },
    light: (place, mol, percent) => `${place}: ${mol} mol/m² a day, ${percent} % of the open sky.`, lightTitle: 'Light', whyTitle: 'Why this pace',
    watchTitle: 'What to watch', nights: (limit) => `Take it back in for nights below ${limit}.`,
    leaves: 'If leaves turn pale, brown or crisp, go back to the step before, until new leaves stay sound.',
    mol: (light) => `${light} mol`, today: 'Today', earlier: (count) => `Days gone by (${count})`,
    allDay: (place) => `${place}, all day`, sun: (place, hours, sunPlace) => `${place}, with ${hours} of morning sun in ${sunPlace}`, forGood: (place) => `${place}, for good`,
    coldNight: (place, low) => `Keep in ${place}: ${low} forecast for the night`, coldDay: (place, high) => `Keep in ${place}: no more than ${high} forecast`,
    sunHours: (hours) => `${Math.trunc(hours) || ''}${hours % 1 ? '½' : ''} h sun`,
    hours: (hours) => (hours === 0.5 ? 'half an hour' : hours === 1 ? '1 hour' : `${Math.trunc(hours)}${hours % 1 ? '½' : ''} hours`),
  },
};
