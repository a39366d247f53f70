// What every screen does. Each script looks for its own place on the screen and is silent elsewhere.
import { watchClocks } from "./clocks.js";
import { watchRevision } from "./revision.js";
import { openBench, openPots } from "./pour.js";
import { openPhoto } from "./photo.js";
import { openKeypad } from "./keypad.js";
import { openNudge } from "./nudge.js";
import { openDrafts } from "./drafts.js";
import { openForms } from "./forms.js";
import { keepScreens } from "./offline.js";

watchRevision();
watchClocks();
openPots();
openBench();
openPhoto();
openKeypad();
openNudge();
openDrafts();
openForms();
keepScreens();
