// Files go to the server one by one, as they are, before anything else is asked about them.
(() => {
  const SCREEN = '/add-walks';
  const zone = () => document.getElementById('add-walks-drop');
  const header = (more) => ({ 'X-Gaittrack-Upload': '1', ...more });
  const dayOf = (file) => {
    const at = new Date(file.lastModified);
    return [at.getFullYear(), at.getMonth() + 1, at.getDate()].map((part) => String(part).padStart(2, '0')).join('-');
  };
  const tell = (text) => {
    const place = document.getElementById('add-walks-sending');
    if (place) place.textContent = text;
  };
  let count = 0;

  const sendOne = async (key, name, file, most) => {
    if (file.size > most) {
      return `${name}: larger than ${Math.floor(most / 1048576)} MB, the most that is taken.`;
    }
    try {
      const answer = await fetch(`/upload/${key}`, {
        method: 'POST',
        body: file,
        headers: header({
          'X-Gaittrack-Name': encodeURIComponent(name),
          'X-Gaittrack-Day': dayOf(file),
          'Content-Type': 'application/octet-stream',
        }),
      });
      if (answer.headers.get('Content-Type')?.includes('json')) return answer.ok ? null : '';
      return `${name}: ${answer.status === 413 ? 'too large' : 'refused'}.`;
    } catch {
      return `${name}: could not be sent. Is the study still open?`;
    }
  };

  const send = async (all) => {
    const place = zone();
    const files = all.filter(visible);
    const nPassed = all.length - files.length;
    if (!place || !files.length) return;
    const { basket, most, files: mostFiles } = place.dataset;
    if (files.length > Number(mostFiles)) {
      tell(`${files.length} files: at most ${mostFiles} at once, so none was sent. Drop some of the folders; `
        + 'a whole archive comes in with the command gaittrack import.');
      return;
    }
    const faults = [];
    for (const [n, [name, file]] of files.entries()) {
      tell(`Sending file ${n + 1} of ${files.length}…`);
      const fault = await sendOne(basket, name, file, Number(most));
      if (fault !== null) faults.push(fault);
    }
    const words = [`${files.length - faults.length} of ${files.length} files received.`, ...faults.filter(Boolean)];
    if (nPassed) words.push(`Passed over: ${nPassed} (hidden files, read-me, conditions.toml: say below what was worn).`);
    tell(words.join(' '));
    if (zone()?.dataset.basket !== basket) return;
    count += 1;
    window.dash_clientside.set_props('add-walks-sent', { data: count });
  };

  const underFolder = async (entry, path) => {
    if (entry.isFile) {
      const file = await new Promise((good, bad) => entry.file(good, bad));
      return [[path + file.name, file]];
    }
    const reader = entry.createReader();
    const found = [];
    for (;;) {
      const some = await new Promise((good, bad) => reader.readEntries(good, bad));
      if (!some.length) return found;
      for (const one of some) found.push(...await underFolder(one, `${path}${entry.name}/`));
    }
  };
  const visible = ([name]) => !/(^|\/)(\.|~\$)/.test(name) && !/(conditions\.toml|readme[^/]*)$/i.test(name);

  document.addEventListener('change', (event) => {
    if (!['add-walks-files-input', 'add-walks-folder-input'].includes(event.target.id)) return;
    const files = [...event.target.files].map((file) => [file.webkitRelativePath || file.name, file]);
    send(files).then(() => { event.target.value = ''; });
  });
  document.addEventListener('dragover', (event) => {
    if (!zone()) return;
    event.preventDefault();
    zone().classList.toggle('over', zone().contains(event.target));
  });
  document.addEventListener('drop', async (event) => {
    if (!zone()) return;
    event.preventDefault();
    zone().classList.remove('over');
    const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry?.());
    const lists = await Promise.all(entries.filter(Boolean).map((entry) => underFolder(entry, '')));
    send((lists.length ? lists.flat() : [...event.dataTransfer.files].map((f) => [f.name, f])));
  });

  const leave = (key) => fetch(`/upload/${key}`, { method: 'DELETE', headers: header(), keepalive: true }).catch(() => {});
  window.addEventListener('pagehide', () => { if (zone()) leave(zone().dataset.basket); });
  let current = null;
  const input = (id, words, isFolder) => {
    const label = document.createElement('label');
    label.htmlFor = id;
    label.textContent = words;
    const field = document.createElement('input');
    Object.assign(field, { type: 'file', id, multiple: true, webkitdirectory: isFolder });
    if (!isFolder) field.accept = zone().dataset.kinds;
    const both = document.createElement('div');
    both.append(field, label);
    return both;
  };
  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.add_walks = {
    inputs: (key) => {
      current = key;
      document.getElementById('add-walks-inputs').replaceChildren(
        input('add-walks-files-input', 'Choose files', false),
        input('add-walks-folder-input', 'or a folder', true));
      return window.dash_clientside.no_update;
    },
    left: (pathname) => {
      if (current && pathname !== SCREEN) {
        leave(current);
        current = null;
      }
      return window.dash_clientside.no_update;
    },
  };
})();
