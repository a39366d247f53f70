export function openKeypad() {}
