#include "rules.h"

#include <string.h>

/* The lamps of this head. Change the table for yours; red must be there. */
static const struct display FACES[] = {
    {"red", {1, {"red"}}},        {"yellow-flash", {1, {"yellow"}}}, {"yellow", {1, {"yellow"}}},
    {"green", {1, {"green"}}},    {"red-yellow", {2, {"red", "yellow"}}}, {"blue-flash", {1, {"blue"}}},
    {"number", {1, {"number"}}},  {"dark", {0, {""}}},
};

static void (*draw_word)(char word[WORD_SIZE]);

static const struct display *face(const char *aspect)
{
    for (size_t i = 0; i < sizeof FACES / sizeof *FACES; i++)
        if (strcmp(FACES[i].aspect, aspect) == 0)
            return &FACES[i];
    return NULL;
}

bool head_has(const char *aspect)
{
    return face(aspect) != NULL;
}

static bool has_lamp(const char *lamp)
{
    for (size_t i = 0; i < sizeof FACES / sizeof *FACES; i++)
        for (size_t j = 0; j < FACES[i].lamps.count; j++)
            if (strcmp(FACES[i].lamps.word[j], lamp) == 0)
                return true;
    return false;
}

/* The shorter way round: 1 comes after SEQ_MAX. */
static bool newer(int64_t seq, int64_t than)
{
    int64_t ahead = ((seq - than) % SEQ_MAX + SEQ_MAX) % SEQ_MAX;
    return ahead > 0 && ahead <= SEQ_MAX / 2;
}

void lease_begin(struct lease *lease, int64_t ms, void (*draw)(char word[WORD_SIZE]))
{
    memset(lease, 0, sizeof *lease);
    lease->ms = ms;
    draw_word = draw;
    draw_word(lease->inc);
}

bool lease_alive(const struct lease *lease, int64_t now_ms)
{
    return lease->running && now_ms < lease->ends_ms;
}

/* Nobody is obeyed from now on; whoever wants to be must learn who this node is now. */
static void lapse(struct lease *lease)
{
    if (lease->running) {
        lease->running = false;
        draw_word(lease->inc);
    }
}

void lease_pass_time(struct lease *lease, int64_t now_ms)
{
    if (lease->running && !lease_alive(lease, now_ms))
        lapse(lease);
}

/* The place of a boot among those heard; a new one takes the place of the one silent for longest. */
static struct heard *place_of(struct lease *lease, const char *boot)
{
    struct heard *oldest = &lease->heard[0];
    for (size_t i = 0; i < lease->boots; i++) {
        if (strcmp(lease->heard[i].boot, boot) == 0)
            return &lease->heard[i];
        if (lease->heard[i].at_ms < oldest->at_ms)
            oldest = &lease->heard[i];
    }
    struct heard *fresh = lease->boots < BOOTS_KEPT ? &lease->heard[lease->boots++] : oldest;
    memset(fresh, 0, sizeof *fresh);
    strcpy(fresh->boot, boot);
    return fresh;
}

static bool others(const struct lease *lease, const char *boot, int64_t now_ms)
{
    for (size_t i = 0; i < lease->boots; i++)
        if (strcmp(lease->heard[i].boot, boot) != 0 && now_ms - lease->heard[i].at_ms < lease->ms)
            return true;
    return false;
}

const char *lease_hear(struct lease *lease, const char *payload, size_t size, int64_t now_ms)
{
    char boot[WORD_SIZE];
    int64_t seq = 0, epoch = 0, at = 0;
    bool stop = false, test = false;
    struct json_field fields[] = {
        {"boot", JSON_ID, boot, 4, 16, false, false},
        {"seq", JSON_WHOLE, &seq, 1, SEQ_MAX, false, false},
        {"epoch", JSON_WHOLE, &epoch, 0, SEQ_MAX, false, false},
        {"stop", JSON_FLAG, &stop, 0, 0, false, false},
        {"test", JSON_FLAG, &test, 0, 0, false, false},
        {"at", JSON_WHOLE, &at, -INT64_C(999999999999999999), INT64_C(999999999999999999), false, false},
    };
    const char *wrong = json_read(payload, size, fields, sizeof fields / sizeof *fields);
    if (wrong)
        return wrong;
    struct heard *heard = place_of(lease, boot);
    bool fresh = heard->seq == 0 || newer(seq, heard->seq);
    heard->at_ms = now_ms;
    if (fresh)
        heard->seq = lease->echo = seq;
    if (others(lease, boot, now_ms)) {
        lease->stop = lease->stop || stop;
        lapse(lease);
    } else if (fresh) {
        strcpy(lease->boot, boot);
        lease->epoch = epoch;
        lease->test = test;
        lease->stop = stop;
        lease->ends_ms = now_ms + lease->ms;
        lease->running = true;
    }
    return NULL;
}

/* Keep an order if it is for this node as it is now, and newer than what is kept of its boot. */
static void keep(struct head *head, const struct lease *lease, const struct order *order)
{
    size_t mine = 0;
    for (size_t i = 0; i < head->orders; i++)
        if (strcmp(head->kept[i].inc, lease->inc) == 0)
            head->kept[mine++] = head->kept[i];
    head->orders = mine;
    if (strcmp(order->inc, lease->inc) != 0)
        return;
    for (size_t i = 0; i < mine; i++) {
        if (strcmp(head->kept[i].boot, order->boot) == 0) {
            if (newer(order->seq, head->kept[i].seq))
                head->kept[i] = *order;
            return;
        }
    }
    if (mine == BOOTS_KEPT) {
        memmove(head->kept, head->kept + 1, (BOOTS_KEPT - 1) * sizeof *head->kept);
        head->orders--;
    }
    head->kept[head->orders++] = *order;
}

const char *head_hear(struct head *head, const struct lease *lease, const char *payload, size_t size)
{
    struct order order = {0};
    struct json_field fields[] = {
        {"boot", JSON_ID, order.boot, 4, 16, false, false},
        {"seq", JSON_WHOLE, &order.seq, 1, SEQ_MAX, false, false},
        {"epoch", JSON_WHOLE, &order.epoch, 0, SEQ_MAX, false, false},
        {"inc", JSON_ID, order.inc, 0, 16, false, false},
        {"aspect", JSON_WORD, order.aspect, 1, 16, false, false},
        {"lamps", JSON_WORDS, &order.lamps, 0, 0, true, false},
    };
    const char *wrong = json_read(payload, size, fields, sizeof fields / sizeof *fields);
    if (wrong)
        return wrong;
    if (!face(order.aspect))
        return "an aspect it cannot show";
    order.has_lamps = fields[5].found;
    for (size_t i = 0; i < order.lamps.count; i++)
        if (!has_lamp(order.lamps.word[i]))
            return "a lamp it does not have";
    keep(head, lease, &order);
    return NULL;
}

/* The order that is borne out now: lease, boot, epoch, incarnation. */
static const struct order *current(const struct head *head, const struct lease *lease, int64_t now_ms)
{
    if (!lease_alive(lease, now_ms))
        return NULL;
    for (size_t i = 0; i < head->orders; i++) {
        const struct order *order = &head->kept[i];
        if (strcmp(order->boot, lease->boot) == 0)
            return strcmp(order->inc, lease->inc) == 0 && order->epoch == lease->epoch ? order : NULL;
    }
    return NULL;
}

static struct display due(const struct head *head, const struct lease *lease, int64_t now_ms)
{
    const struct order *order = current(head, lease, now_ms);
    if (lease->stop || head->tripped)
        return *face("red");
    if (!order)
        return *face(head->fail);
    struct display told = *face(order->aspect);
    if (order->has_lamps && lease->test)
        told.lamps = order->lamps;
    return told;
}

static bool same(const struct display *a, const struct display *b)
{
    if (!a->aspect || a->aspect != b->aspect || a->lamps.count != b->lamps.count)
        return false;
    for (size_t i = 0; i < a->lamps.count; i++)
        if (strcmp(a->lamps.word[i], b->lamps.word[i]) != 0)
            return false;
    return true;
}

bool head_drive(struct head *head, const struct lease *lease, int64_t now_ms)
{
    struct display wanted = due(head, lease, now_ms);
    if (same(&head->shown, &wanted))
        return false;
    bool over = lease->running && !lease_alive(lease, now_ms);
    head->after_ms = over ? now_ms - lease->ends_ms : 0;
    head->shown = wanted;
    head->changes++;
    return true;
}
