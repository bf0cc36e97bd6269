// What the browser keeps for this page; a private window that keeps nothing is no error.

export function localStorageGet(name) { try { return localStorage.getItem(name); } catch { return null; } }
export function localStorageSet(name, value) { try { localStorage.setItem(name, value); } catch { /* held in memory alone */ } }
export function localStorageRemove(name) { try { localStorage.removeItem(name); } catch { /* nothing was kept */ } }
export function localStorageNames() { try { return Object.keys(localStorage); } catch { return []; } }
