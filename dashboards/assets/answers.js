/* An answer of the server that comes late is never shown in the place of a newer one.

   Dash drops an answer when the same callback was answered again. It knows neither what an answer
   sets beside its outputs, nor that what it was asked for, a person, a walk, a comparison, is no
   longer what is chosen and shown. Leans on what Dash sends and gets: see dash_private.py. */
(function () {
  'use strict';
  const ask = window.fetch, answered = new Map();
  let n = 0;
  const CHOSEN = ['choice', 'compare-picked', 'walks-shown'];
  const WHICH = ['person', 'visit', 'trial', 'conditions', 'reference'];
  /* What is said, counted, followed or saved, whatever is shown by now. */
  const STAYS = /^(message|changed|[\w-]+-(job|download))$/;

  const told = value => JSON.stringify(WHICH.map(name => value?.[name] ?? null));
  const now = id => window.dash_component_api.getLayout(id)?.props.data;

  function isOfAnother(request) {
    const isHint = id => id === 'compare-picked' && request.output.includes(id + '.data');
    return [...request.inputs, ...(request.state || [])].flat().some(
      one => CHOSEN.includes(one.id) && told(one.value) !== told() && !isHint(one.id)
        && told(one.value) !== told(now(one.id)));
  }

  const stays = (given, rest) => Object.fromEntries(
    Object.entries(given || {}).filter(([id]) => rest.test(id.split('.')[0])));

  /* What is set beside the outputs is set once only: of what is still chosen, no newer answer has it. */
  async function withoutWhatIsOld(answer, isOther) {
    const given = await answer.json();
    const kept = { ...given, response: stays(given.response, STAYS),
      sideUpdate: isOther ? stays(given.sideUpdate, STAYS) : given.sideUpdate };
    return new Response(JSON.stringify(kept), { headers: answer.headers });
  }

  window.fetch = async (what, how) => {
    const isAsked = String(what?.url ?? what).includes('/_dash-update-component');
    const number = n += 1;
    const answer = await ask(what, how);
    if (!isAsked || answer.status !== 200) { return answer; }
    const request = JSON.parse(how.body), places = JSON.stringify(request.outputs);
    const newest = answered.get(places) ?? 0;
    answered.set(places, Math.max(number, newest));
    const isOther = isOfAnother(request);
    return isOther || number < newest ? withoutWhatIsOld(answer, isOther) : answer;
  };
})();
