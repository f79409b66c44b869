/* SPDX-License-Identifier: Apache-2.0 */
/* The week on demand: the same account that is mailed. */
#include <string.h>

#include "core/watch/digest.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/digest.h"

/* of: a date of the week wanted, which ends on the eve of the next digest day; without it the seven
 * days before today. */
bool handle_week(Job *job, Call *call)
{
    const char *format = call_text(call, "format");
    const Pack *pack = settings_pack(job->settings, job->clinic->language);
    Day end = zone_local(job_clinic_zone(job), job->now_ms).day;
    Day of;
    bool there;

    if (!call_day(call, "of", &of, &there)) return false;
    if (there) end = of + 1 + (job->clinic->digest_weekday - day_weekday(of + 1) + 7) % 7;
    if (format != NULL && strcmp(format, "text") != 0 && strcmp(format, "html") != 0 &&
        strcmp(format, "json") != 0)
        return call_fail(call, EXIT_USE, "format", format, "is one of text, html, json");
    g_autoptr(Digest) digest = digest_gather(job, end);
    if (g_strcmp0(format, "json") == 0) return call_ok(call, digest_json(digest));
    bool html = g_strcmp0(format, "html") == 0;
    g_autofree char *page = html ? digest_html(digest, pack) : digest_text(digest, pack);
    return call_ok(call, json_pack("{s:s, s:s}", "format", html ? "html" : "text", "page", page));
}
