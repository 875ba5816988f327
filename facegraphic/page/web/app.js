// The page put together. Every part watches the store; following.js fills it.

import { mountBox } from "./box.js";
import { mountChoices } from "./choices.js";
import { mountFace } from "./face.js";
import { mountFindings } from "./findings.js";
import { follow } from "./following.js";
import { mountHand } from "./hand.js";
import { mountJobs } from "./jobs.js";
import { mountMaking } from "./making.js";
import { mountNotices } from "./notices.js";
import { mountSheets } from "./sheets.js";
import { mountTabs } from "./tabs.js";

mountJobs();
mountNotices();
mountChoices();
mountTabs();
mountHand();
mountFace();
mountFindings();
mountSheets();
mountMaking();
follow();
mountBox();
