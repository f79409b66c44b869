/* SPDX-License-Identifier: Apache-2.0 */
/* What to say and ask on the telephone, by the matter. Common practice; a clinician should go through it with whoever rings. */
#ifndef OSIER_CORE_WATCH_SCRIPT_H
#define OSIER_CORE_WATCH_SCRIPT_H

/* The lines for a call about an alert of that kind, or about a "session"; NULL at their end. Static, in English, as is all that the
 * clinic's own people read. A kind without lines of its own has those for pain. */
const char *const *call_script(const char *why);

#endif
