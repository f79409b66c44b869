/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/courier_intake.h"

#include "daemon/intake/take_in.h"
#include "daemon/jobs/settle.h"

#define HELD_MOST 32

struct CourierIntake {
    Desk *desk;
    char *gateway;
    CourierTaken *taken;
    void *context;
    int held;
    int life; /* of the program */
};

/* One thing on its way to the disk. */
typedef struct {
    CourierIntake *intake;
    int life;
    char *id;         /* of a message */
    Receipt *receipt; /* or a receipt */
} Errand;

static Errand *errand_new(CourierIntake *intake)
{
    Errand *errand = g_new0(Errand, 1);

    errand->intake = intake;
    errand->life = intake->life;
    intake->held++;
    return errand;
}

static void errand_end(Errand *errand, bool kept)
{
    CourierIntake *intake = errand->intake;

    intake->held--;
    if (errand->life == intake->life) intake->taken(kept ? errand->id : NULL, intake->context);
    if (errand->receipt != NULL) receipt_free(errand->receipt);
    g_free(errand->id);
    g_free(errand);
}

static void message_done(StoreStatus status, int fresh, void *context)
{
    (void)fresh;
    errand_end(context, status == STORE_OK);
}

void courier_intake_message(CourierIntake *intake, const char *id, Incoming *incoming)
{
    GPtrArray *items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);

    g_ptr_array_add(items, incoming);
    if (!desk_is_sender(intake->desk)) {
        g_ptr_array_unref(items);
        return;
    }
    Errand *errand = errand_new(intake);
    errand->id = g_strdup(id);
    take_in(intake->desk,
            &(Taking){.gateway = intake->gateway, .channel = CHANNEL_SMS, .items = items},
            message_done, errand);
}

static bool receipt_job(Job *job, void *context)
{
    const Errand *errand = context;

    if (job->sender) settle_receipt(job, errand->intake->gateway, errand->receipt);
    return true;
}

static void receipt_done(StoreStatus status, void *context)
{
    errand_end(context, status == STORE_OK);
}

void courier_intake_receipt(CourierIntake *intake, Receipt *receipt)
{
    Errand *errand = errand_new(intake);

    errand->receipt = receipt;
    desk_submit(intake->desk, receipt_job, receipt_done, errand);
}

bool courier_intake_is_full(const CourierIntake *intake)
{
    return intake->held >= HELD_MOST;
}

void courier_intake_begin(CourierIntake *intake)
{
    intake->life++;
}

CourierIntake *courier_intake_new(Desk *desk, const char *gateway, CourierTaken *taken,
                                  void *context)
{
    CourierIntake *intake = g_new0(CourierIntake, 1);

    *intake = (CourierIntake){
        .desk = desk, .gateway = g_strdup(gateway), .taken = taken, .context = context};
    return intake;
}

void courier_intake_free(CourierIntake *intake)
{
    g_free(intake->gateway);
    g_free(intake);
}
