/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/weekly.h"

typedef struct {
    Desk *desk;
    DigestDraft *draft;
} Errand;

static bool post_job(Job *job, void *context)
{
    const Errand *errand = context;

    /* The duty may have passed on while it was drawn. */
    if (job->sender) digest_post(job, errand->draft);
    return true;
}

static void errand_free(Errand *errand)
{
    digest_draft_free(errand->draft);
    g_free(errand);
}

static void posted(StoreStatus status, void *context)
{
    (void)status;
    errand_free(context);
}

static void drawn(GBytes *html, void *context)
{
    Errand *errand = context;

    if (html == NULL) {
        errand_free(errand);
        return;
    }
    errand->draft->html = g_strndup(g_bytes_get_data(html, NULL), g_bytes_get_size(html));
    g_bytes_unref(html);
    desk_submit(errand->desk, post_job, posted, errand);
}

void weekly_send(Desk *desk, Painter *painter, DigestDraft *draft)
{
    Errand *errand = g_new0(Errand, 1);
    Drawing *drawing = g_steal_pointer(&draft->drawing);

    *errand = (Errand){.desk = desk, .draft = draft};
    if (clock_is_stepped(desk_clock(desk))) {
        drawn(drawing_draw(drawing), errand);
        drawing_free(drawing);
    } else if (!painter_draw(painter, drawing, drawn, errand)) {
        errand_free(errand);
    }
}
