// One life of a page: our own scripts over a network and a disk that the model governs.

const model = parent.model;
globalThis.fetch = (address, how) => model.network(window, address, how);
const write = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function put(...row) {
  if (model.isFull()) throw new DOMException("no room", "QuotaExceededError");
  return write.apply(this, row);
};

const load = (name) => import(`/static/js/phone/${name}.js`);
const names = ["db", "drafts", "letters", "outbox"];
const parts = await Promise.all(names.map(load));
model.born(Object.fromEntries(names.map((name, at) => [name, parts[at]])));
