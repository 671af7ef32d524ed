// The words of what is to be done, of lessons and of cuttings. Part of the one catalogue.

const n = (count, one, many) => `${count} ${count === 1 ? one : many}`;
const trees = (count) => n(count, 'tree', 'trees');

export const jobWords = {
  job: {
    title: 'Jobs', add: 'Add a job', none: 'Nothing is to be done. Jobs come from what home finds, from the time of year, and from you.',
    when: { late: 'Overdue', today: 'Today', week: 'Within a week', later: 'Later', some: 'When there is time' },
    open: (count) => n(count, 'job is open', 'jobs are open'), ofTree: 'To be done here', due: (day) => `by ${day}`, all: (count) => `All ${trees(count)}`,
    done: 'Done', put: 'In three days', otherDay: 'Another day', tomorrow: 'Tomorrow', aWeek: 'In a week', untilDay: 'Until this day', putOff: 'Put off', drop: 'Drop', sheet: 'Print the sheet', edit: 'Change', note: 'Note the work',
    said: { done: 'Done.', put: (day) => `Put off to ${day}.`, drop: 'Dropped.' }, amount: (count) => `${n(count, 'fruit', 'fruits')} in all`,
    plan: 'Pots are on their way out in steps.', toPlan: 'See the steps',
    calendar: 'Calendar', calendarHow: 'A calendar program can show the jobs by itself. Whoever has the address can read them, so keep it; a new one ends the former.',
    calendarMake: 'Make an address', calendarMade: 'Give this address to your calendar program now; it is shown only once.', calendarShut: 'Shut the calendar', calendarIsShut: 'The calendar is shut.',
  },
  lesson: {
    title: 'Lessons', add: 'Add a lesson', none: 'Write down what you learnt, and when it should come back: on a day of the year, at a sum of heat, or with a piece of work.',
    now: 'Learnt in other years', heeded: 'Heeded', said: 'It comes back next year.', forTask: 'Learnt before', add1: 'Note a lesson from it',
    when: { day: (day) => `around ${day}`, heat: (sum) => `at ${sum} degree-days`, task: (task) => `with ${task}`, never: 'no time given' },
  },
  batch: {
    title: 'Cuttings', add: 'Add cuttings', none: 'Note a batch when you take cuttings: how many, of what, and later how many rooted.',
    rate: (rooted, taken, low, high) => `${rooted} of ${taken} rooted: between ${low} and ${high} in a hundred`, open: (rooted, taken) => `${rooted} of ${taken} rooted so far`,
    from: (code) => `from ${code}`, add1: 'Take cuttings',
    caution: 'Sap and sunlight together can blister skin; blades cut. Cuttings that leave your place may need a plant passport: local plant health rules decide.',
  },
};

export const jobFields = {
  job: 'What is to be done', key: 'Answers', due_on: 'By when', put_off_to: 'Put off to', done_on: 'Done on', dropped: 'Dropped',
  lesson: 'What to remember', on_day: 'Day of the year, such as 04-20', degree_days: 'Or at so many degree-days, °C', learned_on: 'Learnt on', heeded_on: 'Heeded on',
  batch: 'Batch of cuttings', method: 'Made as', taken_on: 'Taken on', taken: 'How many', rooted: 'Rooted', failed: 'Failed', parent: 'Parent',
  part: 'Part of the tree', walk: 'Walking order', origin_country: 'Country of origin, three letters', donor_number: 'The giver’s number', decision: 'Decision', decided_on: 'Decided on',
};

export const jobKinds = { job: 'Job', lesson: 'Lesson', batch: 'Cuttings' };
