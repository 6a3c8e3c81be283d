package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

// NewDesk is a desk over the books that open opens, with every command and action
// that there is.
func NewDesk(open func(domain.ShopID) Books, wakes Wakes, cat *words.Catalogue) *Desk {
	return newDesk(open, wakes, cat, commandTable(), actionTable())
}

// commandTable is every command with what answers it, in the order in which help
// lists them.
func commandTable() []command {
	return []command{
		{hoursCommand, hearing("hours", runHours)},
		{readingCommand, hearing("values", runReading)},
		{problemCommand, runProblem},
		{serviceCommand, hearing("service", runService)},
		{eventCommand, hearing("event", runEvent)},
		{putoffCommand, runPutoff},
		{extendCommand, runExtend},
		{mineCommand, runMine},
		{handoverCommand, runHandover},
		{bladesCommand, runBlades},
		{stockCommand, runStock},
		{logsheetCommand, runLogsheet},
		{typeinCommand, runTypein},
		{causeCommand, runCause},
		{dueCommand, runDue},
		{visitsCommand, runVisits},
		{readyCommand, runReady},
		{machineCommand, runMachine},
		{setupCommand, runSetup},
		{howCommand, runHow},
		{logbookCommand, runLogbook},
		{whyCommand, runWhy},
		{tagoutCommand, runTagout},
		{lockCommand, runLock},
		{releaseCommand, runRelease},
		{mendedCommand, runMended},
		{undoCommand, runUndo},
		{forgetCommand, runForget},
		{shopSettings, runSettings},
		{shopCheck, runCheck},
		{shopAdd, runAdd},
		{shopStart, runStart},
		{shopConfirm, runConfirm},
		{shopInterval, runInterval},
		{shopSecond, runSecondWanted},
		{shopLoosen, runLoosen},
		{shopNeeds, runNeeds},
		{shopReporting, runReporting},
		{shopRetire, runRetire},
		{shopAway, runAway},
		{gaugeList, runGauges},
		{gaugeSet, runGauge},
		{gaugeRepeat, runRepeat},
		{gaugeStudy, runStudy},
		{gaugeMeasure, runMeasure},
		{gaugeResult, runResult},
		{helpCommand, runHelp},
	}
}

// actionTable is everything that buttons and forms do, with who may press them.
func actionTable() []action {
	return []action{
		waits(againAction, Asker, runAgain),
		waits(typeinAction, Asker, runTyped),
		waits(mendAction, Asker, runMend),
		waits(valuesAction, Asker, runValues),
		waits(turnedAction, Asker, runTurned),
		waits(howTurnedAction, Asker, runHowTurned),
		waits(believeAction, Asker, runBelieve),
		lasts(whyAction, Anyone, runWhyReport),
		waits(withdrawAction, Asker, runWithdraw),
		lasts(tickAction, Steward, runTick),
		lasts(stopAction, Anyone, runStop),
		lasts(mistakeAction, Anyone, runMistake),
		lasts(lockOffAction, Anyone, runLockOff),
		lasts(lockKeptAction, Anyone, runLockKept),
		lasts(lockAskAction, Steward, runLockAsk),
		lasts(lockNoteAction, Steward, runLockNote),
		waits(lockNotedAction, Steward, runLockNoted),
		lasts(lockConfirmAction, Anyone, runLockConfirm),
		waits(tagSeenAction, Steward, runTagSeen),
		waits(testAction, Steward, runTest),
		lasts(endTestAction, Steward, runEndTest),
		lasts(renewAction, Steward, runRenewTest),
		lasts(releaseAction, Steward, runReleased),
		waits(confirmAction, Steward, runConfirmNext),
		lasts(takeOverAction, Anyone, runTakeOver),
		lasts(logAction, Anyone, runLogPage),
		waits(adoptAction, Steward, runAdopt),
		waits(gaugeAction, Steward, runGaugeConfirmed),
		waits(retireAction, Steward, runRetired),
		waits(forgetAction, Asker, runForgotten).slowly(),
		waits(takeVisitsAction, Steward, runTakeVisits),
		lasts(visitAction, Anyone, runVisit),
		lasts(visitDoneAction, Anyone, runVisitDone),
		lasts(foundAction, Anyone, runFound),
		lasts(loosenAction, Steward, runPutInForce),
		lasts(pingAction, Keeper, runPing),
		lasts(seeToAction, OnCall, runSeeTo),
	}
}
