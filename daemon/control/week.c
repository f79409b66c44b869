/* SPDX-License-Identifier: Apache-2.0 */
/* The week on demand: the same account that is mailed. */
#include <string.h>

#include "core/paper/week.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/digest.h"

/* of: a date of the week wanted, which ends on the eve of the next digest day; without it the seven
 * days before today. False after answering. */
static bool read_end(Job *job, Call *call, Day *end)
{
    Day of;
    bool there;

    if (!call_day(call, "of", &of, &there)) return false;
    *end = there ? of + 1 + (job->clinic->digest_weekday - day_weekday(of + 1) + 7) % 7
                 : zone_local(job_clinic_zone(job), job->now_ms).day;
    return true;
}

bool handle_week(Job *job, Call *call)
{
    const char *format = call_text(call, "format");
    const Pack *pack = settings_pack(job->settings, job->clinic->language);
    Day end;

    if (!read_end(job, call, &end)) return false;
    if (format != NULL && strcmp(format, "text") != 0 && strcmp(format, "html") != 0 &&
        strcmp(format, "json") != 0)
        return call_fail(call, EXIT_USE, "format", format,
                         "must be one of text, html, json, pdf (over HTTP a PDF is GET /week.pdf)");
    g_autoptr(Digest) digest = digest_gather(job, end);
    if (g_strcmp0(format, "json") == 0) return call_ok(call, digest_json(digest));
    if (g_strcmp0(format, "html") == 0) {
        GPtrArray *pictures = digest_pictures(job, digest, pack);
        Drawing *drawing = drawing_of_digest(g_steal_pointer(&digest), pictures, job->settings);
        drawing->document = true;
        return call_draw(call, drawing);
    }
    g_autofree char *page = digest_text(digest, pack);
    return call_ok(call, json_pack("{s:s, s:s}", "format", "text", "page", page));
}

bool handle_week_paper(Job *job, Call *call)
{
    const Pack *pack = settings_pack(job->settings, job->clinic->language);
    const char *paper = call_text(call, "paper");
    bool letter;
    Day end;

    if (!read_end(job, call, &end)) return false;
    if (!paper_is_letter(paper, &letter))
        return call_fail(call, EXIT_USE, "paper", paper, "must be one of a4, letter");
    g_autoptr(Digest) digest = digest_gather(job, end);
    Paper *sheet = week_sheet(pack, digest, digest_adherence(digest, pack), letter);
    sheet->made = instant_format(job->now_ms);
    return call_draw(call, drawing_of_sheet(sheet, "week.pdf"));
}
