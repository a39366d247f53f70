export function openNudge() {}
